import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';

/** `nobody`: there is no paired device. `missed`: none of them was reached. */
export type Sent = 'reached' | 'missed' | 'nobody';

/** A page on its way to the tutor, when somebody does not want to wait for the devices to meet by themselves. */
export class Sending {
  readonly doing = new Doing();
  outcome = $state<Sent | null>(null);

  /** `switchOn` lets devices meet over the network. */
  constructor(
    readonly bridge: Bridge,
    readonly switchOn: () => Promise<void>,
  ) {}

  /** Meets all devices, and switches meetings on before where they are off. */
  async send(on: boolean): Promise<void> {
    this.outcome = null;
    await this.doing.run(async () => {
      if (!on) await this.switchOn();
      const { meetings } = await this.bridge.call('exchange', { device: null });
      const reached = meetings.some(({ problem }) => problem === null);
      this.outcome = meetings.length === 0 ? 'nobody' : reached ? 'reached' : 'missed';
    });
  }
}
