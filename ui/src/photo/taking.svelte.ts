import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { PageId, Problem, Staged, StagePhoto } from '../bridge/types';

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
  readonly dropping = new Doing();
  /** The one that was kept or dropped last: lists may still show it. */
  over = $state<string | null>(null);
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
    return this.looking.problem ?? this.keeping.problem ?? this.dropping.problem;
  }

  /** Hands a photograph over. It takes the place of the one before, which stays if this one can't be looked at. */
  async look(file: File, about: StagePhoto): Promise<void> {
    this.#begin();
    await this.looking.run(async () => {
      this.staged = await this.bridge.stagePhoto(file, { ...about, insteadOf: this.staged?.handle ?? null });
    });
  }

  /** Takes up a photograph that waits. */
  async lookAgain(handle: string): Promise<void> {
    this.#begin();
    await this.looking.run(async () => {
      this.staged = await this.bridge.call('look_again', { handle });
    });
  }

  /** Says where the corners are, or has them looked for anew. What was found before stays if that fails. */
  async setCorners(corners: Staged['corners']): Promise<void> {
    const handle = this.staged?.handle;
    if (handle === undefined) return;
    this.#begin();
    await this.looking.run(async () => {
      this.staged = await this.bridge.call('set_corners', { handle, corners });
      this.#cuts += 1;
      this.correcting = false;
    });
  }

  /** Keeps what was looked at and hands over the new page. */
  async keep(kept: (page: PageId) => void): Promise<void> {
    const staged = this.staged;
    if (!staged) return;
    this.#begin();
    await this.keeping.run(async () => {
      const { page } = await this.bridge.call('keep_page', { handle: staged.handle, despite: !staged.fit });
      this.over = staged.handle;
      this.staged = null;
      kept(page);
    });
  }

  async drop(): Promise<void> {
    const staged = this.staged;
    if (!staged) return;
    this.#begin();
    await this.dropping.run(async () => {
      await this.bridge.call('drop_photo', { handle: staged.handle });
      this.over = staged.handle;
      this.staged = null;
      this.correcting = false;
    });
  }

  /** What went wrong before is over. */
  #begin(): void {
    for (const doing of [this.looking, this.keeping, this.dropping]) doing.problem = null;
  }
}
