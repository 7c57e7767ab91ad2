import { Doing } from '../bridge/doing.svelte';
import type { Amendment, AmendmentRecord, Aspect, BoxMm, CorrectionKind, PointMm, Reading } from '../bridge/types';
import type { Acts } from '../desk/acts';
import { Drawing } from '../desk/drawing.svelte';
import { words } from '../words/words';
import { putRightText } from './sentences';
import { found, type Picked, type Stop, stopAt, stopsOf } from './stops';

/** What a box that is being drawn says: where a letter is, or what was missed there. */
export type Placing =
  | { of: 'letter'; at: BoxMm; char: string }
  | { of: 'correction'; kind: CorrectionKind }
  | { of: 'notWriting' }
  | { of: 'line' };

function amendmentOf(placing: Placing, bounds: BoxMm): Amendment {
  switch (placing.of) {
    case 'letter':
      return { about: 'letter', at: placing.at, letter: placing.char, bounds };
    case 'correction':
      return { about: 'correction', at: bounds, kind: placing.kind };
    case 'notWriting':
    case 'line':
      return { about: placing.of, at: bounds };
  }
}

/** Looking at single letters of a page, and putting right what the program found. */
export class Amending {
  picked = $state.raw<Picked | null>(null);
  readonly drawing = new Drawing();
  readonly doing = new Doing();
  #placing = $state.raw<Placing | null>(null);

  constructor(readonly acts: Acts) {}

  /** What the box says that is being drawn; `null` where none is, or it was laid down on the page. */
  get placing(): Placing | null {
    return this.drawing.tool ? this.#placing : null;
  }

  /** What was picked, as it stands in a reading. */
  stopIn(reading: Reading, aspect: Aspect | null): Stop | null {
    return found(stopsOf(reading, aspect), this.picked);
  }

  /** Picks what lies at a point of the page, or no further from it than `reach`, in mm. */
  pickAt(reading: Reading, aspect: Aspect | null, point: PointMm, reach: number): Stop | null {
    const stop = stopAt(stopsOf(reading, aspect), point, reach);
    if (stop) this.picked = stop;
    return stop;
  }

  /** Says what is so; the page is measured again with it. */
  async amend(what: Amendment): Promise<boolean> {
    return this.doing.run(() => this.acts.amend(what, putRightText(what)));
  }

  async takeBack({ id, what }: AmendmentRecord): Promise<boolean> {
    return this.doing.run(() => this.acts.takeBack(id, what, words.putRight.takeBackLabel(putRightText(what))));
  }

  /** Takes up a box to say where something is. */
  place(placing: Placing, start: BoxMm): void {
    this.#placing = placing;
    this.drawing.take({ shape: 'box', bounds: start });
  }

  /** Lays the box down without saying anything. */
  lay(): void {
    this.#placing = null;
    this.drawing.lay();
  }

  /** Says that it is where the box was drawn. */
  async putPlace(): Promise<boolean> {
    const { placing } = this;
    const { shape } = this.drawing;
    if (!placing || shape?.shape !== 'box') return false;
    const { bounds } = shape;
    if (!(await this.amend(amendmentOf(placing, bounds)))) return false;
    this.picked = { at: bounds, char: placing.of === 'letter' ? placing.char : null, drawn: true };
    this.lay();
    return true;
  }
}
