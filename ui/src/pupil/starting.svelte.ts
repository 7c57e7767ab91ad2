import { problemOf } from '../bridge/asked.svelte';
import type { Bridge } from '../bridge/bridge';
import type { PageId, Problem, PupilId } from '../bridge/types';

/** Which pages stand as the starting point, as a person ticks them one after another. */
export class Starting {
  problem = $state.raw<Problem | null>(null);
  /** Goes up when a tick could not be kept, so that the box shows again what is. */
  refused = $state(0);
  #last: Promise<void> = Promise.resolve();

  constructor(
    readonly bridge: Bridge,
    readonly pupil: PupilId,
  ) {}

  /** Ticks may come faster than they are kept: none is lost, and they stay in order. Ends with this one. */
  set(page: PageId, starting: boolean): Promise<void> {
    this.#last = this.#last.then(async () => {
      try {
        await this.bridge.call('set_starting', { pupil: this.pupil, page, starting });
        this.problem = null;
      } catch (error) {
        this.problem = problemOf(error);
        this.refused += 1;
      }
    });
    return this.#last;
  }
}
