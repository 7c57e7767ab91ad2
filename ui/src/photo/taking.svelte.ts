import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { PageId, Staged, StagePhoto } from '../bridge/types';

/** One photograph on its way into the book: chosen, looked at, kept or dropped. */
export class Taking {
  staged = $state.raw<Staged | null>(null);
  /** Whether a person is putting the corners of the sheet right. */
  correcting = $state(false);
  readonly looking = new Doing();
  readonly keeping = new Doing();
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

  /** Hands a photograph over; the one before is dropped. */
  async look(file: File, about: StagePhoto): Promise<void> {
    await this.drop();
    await this.looking.run(async () => {
      this.staged = await this.bridge.stagePhoto(file, about);
    });
  }

  /** Says where the corners are, or has them looked for anew. What was found before stays if that fails. */
  async setCorners(corners: Staged['corners']): Promise<void> {
    const handle = this.staged?.handle;
    if (handle === undefined) return;
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
    await this.keeping.run(async () => {
      const { page } = await this.bridge.call('keep_page', { handle: staged.handle, despite: !staged.fit });
      this.staged = null;
      kept(page);
    });
  }

  /** Goes away: what is left unkept would wait in the program for nothing. What is being kept goes on. */
  leave(): void {
    if (!this.keeping.busy) void this.drop();
  }

  async drop(): Promise<void> {
    const staged = this.staged;
    this.staged = null;
    this.correcting = false;
    if (!staged) return;
    // A photograph that can't be dropped is gone when the program ends; nobody needs to hear of it.
    await this.bridge.call('drop_photo', { handle: staged.handle }).catch(() => undefined);
  }
}
