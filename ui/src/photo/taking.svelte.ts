import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { PageId, Staged, StagePhoto } from '../bridge/types';

/** One photograph on its way into the book: chosen, looked at, kept or dropped. */
export class Taking {
  staged = $state.raw<Staged | null>(null);
  readonly looking = new Doing();
  readonly keeping = new Doing();

  constructor(readonly bridge: Bridge) {}

  /** Hands a photograph over; the one before is dropped. */
  async look(file: File, about: StagePhoto): Promise<void> {
    await this.drop();
    await this.looking.run(async () => {
      this.staged = await this.bridge.stagePhoto(file, about);
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

  async drop(): Promise<void> {
    const staged = this.staged;
    this.staged = null;
    if (!staged) return;
    // A photograph that can't be dropped is gone when the program ends; nobody needs to hear of it.
    await this.bridge.call('drop_photo', { handle: staged.handle }).catch(() => undefined);
  }
}
