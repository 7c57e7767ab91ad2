import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Aspect, MarkId, OfPage } from '../bridge/types';
import { Drawing } from './drawing.svelte';

/** A mark being made: its tool, its shape so far, and what it says. */
export class Marking extends Drawing {
  words = $state('');
  aspect = $state<Aspect | null>(null);
  praise = $state(false);
  readonly doing = new Doing();

  constructor(
    readonly bridge: Bridge,
    readonly where: OfPage,
  ) {
    super();
  }

  /** Can it be put on the page as it is? */
  override get ready(): boolean {
    return super.ready && (this.tool !== 'note' || this.words.trim() !== '');
  }

  override lay(): void {
    super.lay();
    this.words = '';
    this.praise = false;
  }

  async put(): Promise<MarkId | null> {
    const shape = this.shape;
    if (!shape) return null;
    let made: MarkId | null = null;
    await this.doing.run(async () => {
      const { words, aspect, praise } = this;
      const input = { ...this.where, shape, words: words.trim(), aspect, praise };
      made = (await this.bridge.call('add_mark', input)).mark;
      this.lay();
    });
    return made;
  }

  async remove(mark: MarkId): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('remove_mark', { pupil: this.where.pupil, mark });
    });
  }
}
