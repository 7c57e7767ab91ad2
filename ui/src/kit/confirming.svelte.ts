import { Doing } from '../bridge/doing.svelte';

/** An act that a person is asked about once more before it is done. */
export class Confirming {
  open = $state(false);
  typed = $state('');
  readonly doing = new Doing();

  /** `wanted` is what has to be typed first; `null` where asking is enough. */
  constructor(readonly wanted: () => string | null) {}

  get ready(): boolean {
    const wanted = this.wanted();
    return !this.doing.busy && (wanted === null || plain(this.typed) === plain(wanted));
  }

  begin(): void {
    this.typed = '';
    this.doing.problem = null;
    this.open = true;
  }

  lay(): void {
    this.open = false;
  }

  /** Does it, if it may be done; says whether it ended well. What did not end well stays open. */
  async go(act: () => Promise<void>): Promise<boolean> {
    if (!this.open || !this.ready) return false;
    const done = await this.doing.run(act);
    if (done) this.lay();
    return done;
  }
}

/** Keyboards put together accented letters in more than one way (Unicode Standard Annex 15). */
function plain(text: string): string {
  return text.normalize('NFC').trim();
}
