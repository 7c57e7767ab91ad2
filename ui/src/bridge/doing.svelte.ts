import { problemOf } from './asked.svelte';
import type { Problem } from './types';

/** A command under way: whether it runs, and what went wrong last. */
export class Doing {
  busy = $state(false);
  problem = $state.raw<Problem | null>(null);

  /** Runs a command unless one is running; says whether it ended well. */
  async run(command: () => Promise<void>): Promise<boolean> {
    if (this.busy) return false;
    this.busy = true;
    this.problem = null;
    try {
      await command();
      return true;
    } catch (error) {
      this.problem = problemOf(error);
      return false;
    } finally {
      this.busy = false;
    }
  }
}
