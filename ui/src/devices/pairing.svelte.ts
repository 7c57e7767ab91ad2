import { Asked } from '../bridge/asked.svelte';
import type { Bridge, Input, Verb } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { OfferPairing, PairingState } from '../bridge/types';

type PairingVerb = Extract<Verb, 'offer_pairing' | 'join_pairing' | 'confirm_pairing' | 'cancel_pairing'>;

/** The pairing under way, as the program has it. */
export class Pairing {
  readonly doing = new Doing();
  readonly asked: Asked<'pairing'>;

  constructor(readonly bridge: Bridge) {
    this.asked = new Asked(bridge, 'pairing', {}, (event) => event.event === 'pairing');
  }

  get state(): PairingState {
    return this.asked.value ?? { stage: 'idle' };
  }

  offer(offer: OfferPairing): void {
    this.#tell('offer_pairing', offer);
  }

  /** `paperKey` is what a tutor types who comes back by the key on paper; empty otherwise. */
  join(code: string, paperKey = ''): void {
    this.#tell('join_pairing', { code: code.trim(), paperKey: paperKey.trim() || null });
  }

  confirm(same: boolean): void {
    this.#tell('confirm_pairing', { same });
  }

  cancel(): void {
    this.#tell('cancel_pairing', {});
  }

  #tell<V extends PairingVerb>(verb: V, input: Input<V>): void {
    void this.doing.run(async () => {
      await this.bridge.call(verb, input);
      await this.asked.ask();
    });
  }
}
