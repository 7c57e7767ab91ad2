import { Doing } from '../bridge/doing.svelte';

/** Something that was done and can be undone, and done again. */
export interface Act {
  /** What it is called where it can be undone. */
  name: string;
  undo: () => Promise<void>;
  redo: () => Promise<void>;
}

/** So many acts are kept. */
const MOST = 100;

/** What was last done on a page, for as long as the program is open. */
export class History {
  readonly doing = new Doing();
  #done = $state.raw<readonly Act[]>([]);
  #undone = $state.raw<readonly Act[]>([]);

  /** What would be undone, and done again, next. */
  get last(): Act | null {
    return this.#done.at(-1) ?? null;
  }

  get next(): Act | null {
    return this.#undone.at(-1) ?? null;
  }

  /** Keeps an act that was just done; what was undone before it is left behind. */
  did(act: Act): void {
    this.#done = [...this.#done, act].slice(-MOST);
    this.#undone = [];
  }

  /** Undoes the last act and tells which; `null` where there was none or it could not be. */
  async undo(): Promise<Act | null> {
    const act = this.last;
    if (!act || !(await this.doing.run(act.undo))) return null;
    this.#done = this.#done.slice(0, -1);
    this.#undone = [...this.#undone, act];
    return act;
  }

  async redo(): Promise<Act | null> {
    const act = this.next;
    if (!act || !(await this.doing.run(act.redo))) return null;
    this.#undone = this.#undone.slice(0, -1);
    this.#done = [...this.#done, act];
    return act;
  }
}
