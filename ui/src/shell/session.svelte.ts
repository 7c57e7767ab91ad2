import { createContext, onDestroy } from 'svelte';
import { anyChange, Asked, ofPupil, problemOf } from '../bridge/asked.svelte';
import type { Bridge, Connection, Input, Verb } from '../bridge/bridge';
import type { BringBack, Overview, PageId, Problem, Settle } from '../bridge/types';
import { Place } from './place.svelte';
import { Saying } from './saying.svelte';

/** What lasts as long as the page is open. */
export class Session {
  overview = $state.raw<Overview | null>(null);
  problem = $state.raw<Problem | null>(null);
  connection = $state<Connection>('open');
  /** Whether the start is behind whoever sits here. It is not yet while this device has just been settled. */
  begun = $state(true);
  /** Whether this device has just been made from a backup. */
  brought = $state(false);
  /** The page that was kept a moment ago: thanks are said for it once. */
  kept: PageId | null = null;
  readonly saying = new Saying();
  readonly place = new Place();

  constructor(readonly bridge: Bridge) {
    bridge.onConnection((connection) => (this.connection = connection));
  }

  async start(): Promise<void> {
    try {
      this.overview = await this.bridge.call('overview', {});
      this.problem = null;
    } catch (error) {
      this.problem = problemOf(error);
    }
  }

  async settle(input: Settle): Promise<void> {
    const overview = await this.bridge.call('settle', input);
    if (!this.overview?.device) this.begun = false;
    this.overview = overview;
  }

  /** Makes this device, which is nobody's yet, from a backup. */
  async bringBack(input: BringBack): Promise<void> {
    const overview = await this.bridge.call('bring_back', input);
    this.begun = false;
    this.brought = overview.device !== null;
    this.overview = overview;
  }

  /** Switches the network on or off. Another relay can be named while it is on. */
  async setNetwork(on: boolean, relay: string | null = this.overview?.relay ?? null): Promise<void> {
    this.overview = await this.bridge.call('set_network', { on, relay });
  }

  say(sentence: string): void {
    this.saying.say(sentence);
  }
}

export const [getSession, setSession] = createContext<Session>();

/** A view that lives as long as the component that asks; follows one pupil, or all changes. */
export function asking<V extends Verb>(verb: V, input: () => Input<V>): Asked<V> {
  const { bridge } = getSession();
  const about = input();
  const pupil = 'pupil' in about && typeof about.pupil === 'string' ? about.pupil : null;
  const asked = new Asked(bridge, verb, about, pupil === null ? anyChange : ofPupil(pupil));
  onDestroy(() => asked.close());
  return asked;
}
