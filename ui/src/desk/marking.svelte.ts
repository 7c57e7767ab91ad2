import { Doing } from '../bridge/doing.svelte';
import type { Aspect, Mark, MarkId, PointMm } from '../bridge/types';
import type { Acts } from './acts';
import type { Extent, Tool } from './draft';
import { Drawing } from './drawing.svelte';

/** The sentence of a mark being made; half of it may stay for another day. */
export interface Sentence {
  text: string;
  drop: () => Promise<void>;
}

/** A mark being made or changed: its tool, its shape so far, and what it says. */
export class Marking extends Drawing {
  aspect = $state<Aspect | null>(null);
  /** The mark that is being changed; `null` while a new one is made. */
  changed = $state.raw<Mark | null>(null);
  readonly doing = new Doing();

  constructor(
    readonly acts: Acts,
    readonly sentence: Sentence,
  ) {
    super();
  }

  /** Can it be put on the page as it is? */
  override get ready(): boolean {
    return super.ready && (this.tool !== 'note' || this.sentence.text.trim() !== '');
  }

  /** Takes up a tool, or lays it down. A new mark is about what the page shows just now, whatever the last one was about. */
  override choose(tool: Tool, middle: PointMm, page: Extent, shown: Aspect | null = null): void {
    const going = this.tool !== null;
    super.choose(tool, middle, page);
    if (this.tool === null) this.lay();
    else if (!going) this.aspect = shown;
  }

  /** Takes up a mark to change it. */
  change(mark: Mark): void {
    this.take(mark.shape);
    this.changed = mark;
    this.aspect = mark.aspect;
    this.sentence.text = mark.words;
  }

  /** Lays the tool down; the words that were typed stay. */
  override lay(): void {
    super.lay();
    // The words of a mark that is there already are no half-typed ones.
    if (this.changed) void this.sentence.drop();
    this.changed = null;
    this.aspect = null;
  }

  /** Lays the tool down and drops the words. */
  async cancel(): Promise<void> {
    this.lay();
    await this.sentence.drop();
  }

  /** Puts it on the page, as praise or as something to work on. */
  async put(praise: boolean): Promise<MarkId | null> {
    const { shape, aspect, changed } = this;
    if (!shape || !this.ready) return null;
    const mark = { shape, words: this.sentence.text.trim(), aspect, praise };
    let made: MarkId | null = null;
    const done = await this.doing.run(async () => {
      made = changed ? await this.acts.changeMark(changed, mark) : await this.acts.addMark(mark);
    });
    if (done) await this.cancel();
    return made;
  }

  async remove(mark: Mark): Promise<boolean> {
    return this.doing.run(() => this.acts.removeMark(mark));
  }
}
