import { SvelteMap } from 'svelte/reactivity';
import type { Bridge } from '../bridge/bridge';
import type { DeviceId, Event } from '../bridge/types';

export type Movement = Omit<Extract<Event, { event: 'moving' }>, 'event' | 'device'>;

/** What passes between this device and others while they meet, whoever began. */
export class Movements {
  readonly byDevice = new SvelteMap<DeviceId, Movement>();
  readonly close: () => void;

  constructor(bridge: Bridge) {
    this.close = bridge.onEvent((event) => this.#hear(event));
  }

  #hear(event: Event): void {
    if (event.event === 'moving') {
      const { received, toReceive, sent } = event;
      this.byDevice.set(event.device, { received, toReceive, sent });
    }
    if (event.event === 'met') this.byDevice.delete(event.device);
  }
}
