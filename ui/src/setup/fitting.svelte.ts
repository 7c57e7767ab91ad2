import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Furniture, Mm } from '../bridge/types';
import { mm } from '../words/format';

/** Millimetres as a tape measure at home shows them. */
export const centimetres = (length: Mm): string => mm(length / 10);

/** Which seat and table fit a height. The height is sent to be looked up and is kept nowhere. */
export class Fitting {
  /** In centimetres, as typed. */
  height = $state<number | null>(null);
  sizes = $state.raw<Furniture[] | null>(null);
  readonly doing = new Doing();

  constructor(readonly bridge: Bridge) {}

  async ask(): Promise<void> {
    const height = this.height;
    if (height === null) return;
    await this.doing.run(async () => {
      this.sizes = null;
      this.sizes = (await this.bridge.call('furniture', { heightMm: height * 10 })).sizes;
    });
  }
}
