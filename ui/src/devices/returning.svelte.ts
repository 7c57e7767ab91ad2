import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Meeting } from '../bridge/types';

/** What another device says to one that it lets in no longer. */
const TURNED_AWAY = 'not-paired';

/** The first device that let this one in no longer, of those that it met. */
export function turnedAway(meetings: readonly Meeting[]): Meeting | null {
  return meetings.find(({ problem }) => problem?.code === TURNED_AWAY) ?? null;
}

/** Coming back by the key on paper to what this device was removed from. */
export class Returning {
  /** As it stands on the paper; kept nowhere, and gone once it was used. */
  key = $state('');
  /** How the meetings went; `null` before. */
  meetings = $state.raw<Meeting[] | null>(null);
  readonly doing = new Doing();

  constructor(readonly bridge: Bridge) {}

  /** Whether some device has let this one in again; `null` while nothing was tried. */
  get back(): boolean | null {
    return this.meetings && this.meetings.some(({ problem }) => problem === null);
  }

  /** Says whether the program took the key. What came to nothing leaves it as typed. */
  async comeBack(): Promise<boolean> {
    const paperKey = this.key.trim();
    if (paperKey === '') return false;
    return this.doing.run(async () => {
      this.meetings = null;
      this.meetings = (await this.bridge.call('return_by_paper', { paperKey })).meetings;
      if (this.back) this.key = '';
    });
  }
}
