import { problemOf } from '../bridge/asked.svelte';
import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { PageId, Problem, Staged, StagePhoto, WaitingPhoto } from '../bridge/types';
import { words } from '../words/words';

/** The code of the program for a photograph that waits no longer. */
const GONE = 'photo-gone';

/**
 * One photograph on its way into the book: chosen, looked at, kept or dropped. Until then it waits in the program; going
 * away leaves it there.
 */
export class Taking {
  staged = $state.raw<Staged | null>(null);
  /** Whether a person is putting the corners of the sheet right. */
  correcting = $state(false);
  readonly looking = new Doing();
  readonly keeping = new Doing();
  /** The one that is being let go. */
  #dropping = $state<string | null>(null);
  /** The one that waits no longer, by what was done last: lists may still show it. */
  over = $state<string | null>(null);
  /** The one that the list of those that wait has had last. */
  #listed: string | null = null;
  /** What became of a photograph without this screen having done it. */
  #elsewhere = $state.raw<Problem | null>(null);
  /** How often the page was cut out of this photograph: each time its picture is another. */
  #cuts = $state(0);

  constructor(readonly bridge: Bridge) {}

  /** Whether a photograph is under way. */
  get active(): boolean {
    return this.staged !== null || this.looking.busy || this.keeping.busy;
  }

  /** Address of the flat page. It stands for another picture once the corners were put right. */
  get preview(): string {
    return this.staged ? `${this.bridge.stagedUrl(this.staged.handle)}?cut=${this.#cuts}` : '';
  }

  /** What went wrong last. */
  get problem(): Problem | null {
    return this.#elsewhere ?? this.looking.problem ?? this.keeping.problem;
  }

  /** Hands a photograph over. It is to take the place of the one before, which stays if this one can't be looked at. */
  async look(file: File, about: StagePhoto): Promise<void> {
    const before = this.staged?.handle ?? null;
    await this.#run(this.looking, before, async () => {
      this.staged = await this.bridge.stagePhoto(file, { ...about, insteadOf: before });
    });
  }

  /** Takes up a photograph that waits. */
  async lookAgain(handle: string): Promise<void> {
    await this.#run(this.looking, handle, async () => {
      this.staged = await this.bridge.call('look_again', { handle });
    });
  }

  /** Says where the corners are, or has them looked for anew. What was found before stays if that fails. */
  async setCorners(corners: Staged['corners']): Promise<void> {
    const before = this.staged;
    if (!before) return;
    const { handle } = before;
    await this.#run(this.looking, handle, async () => {
      const staged = await this.bridge.call('set_corners', { handle, corners });
      // Other corners do not let the earlier one go.
      this.staged = { ...staged, earlierStays: staged.earlierStays || before.earlierStays };
      this.#cuts += 1;
      this.correcting = false;
    });
  }

  /** Keeps what was looked at and hands over the new page. */
  async keep(kept: (page: PageId) => void): Promise<void> {
    const staged = this.staged;
    if (!staged) return;
    const { handle } = staged;
    await this.#run(this.keeping, handle, async () => {
      const { page } = await this.bridge.call('keep_page', { handle, despite: !staged.fit });
      this.#layDown(handle);
      kept(page);
    });
  }

  /** Lets a photograph go. What fails is for whoever was asked to tell. */
  async drop(handle: string): Promise<void> {
    this.putAway();
    this.#dropping = handle;
    try {
      await this.bridge.call('drop_photo', { handle });
      this.#layDown(handle);
    } finally {
      this.#dropping = null;
    }
  }

  /**
   * Hears which photographs wait. One that was among them and is no more, though nothing was done here, was kept or
   * dropped on another screen. One that was just taken may not have been among them yet.
   */
  hear(waiting: readonly WaitingPhoto[]): void {
    const handle = this.staged?.handle;
    // Before they are answered, what is done here may be heard of.
    if (handle === undefined || this.looking.busy || this.keeping.busy || this.#dropping !== null) return;
    if (waiting.some((photo) => photo.handle === handle)) this.#listed = handle;
    else if (this.#listed === handle) this.#goneElsewhere(handle);
  }

  /** What went wrong before is over. */
  putAway(): void {
    this.#elsewhere = null;
    for (const doing of [this.looking, this.keeping]) doing.problem = null;
  }

  /** Does something with a photograph; where that waits no longer, it is laid down. */
  async #run(doing: Doing, handle: string | null, command: () => Promise<void>): Promise<void> {
    this.putAway();
    await doing.run(async () => {
      try {
        await command();
      } catch (error) {
        if (handle === null || problemOf(error).code !== GONE) throw error;
        this.#goneElsewhere(handle);
      }
    });
  }

  #goneElsewhere(handle: string): void {
    this.#elsewhere = { code: GONE, ...words.photo.elsewhere };
    this.#layDown(handle);
  }

  #layDown(handle: string): void {
    this.over = handle;
    if (this.staged?.handle !== handle) return;
    this.staged = null;
    this.correcting = false;
  }
}
