import type { BoxMm, Join, Letter, Measure, Reading } from '../bridge/types';

/** A small box whose left top corner is given, in mm. */
export const boxAt = (x: number, y: number, width = 4, height = 10): BoxMm => ({ x0: x, y0: y, x1: x + width, y1: y + height });

/** A letter for tests; what is not said is unremarkable. */
export const letterOf = (char: string | null, more: Partial<Letter> = {}): Letter => ({
  line: 0,
  word: 0,
  bounds: boxAt(10, 20),
  dot: null,
  class: 'short',
  char,
  confidence: 1,
  slant: null,
  foot: null,
  body: null,
  bowl: null,
  reads: null,
  faults: [],
  byHand: false,
  ...more,
});

export const joinOf = (left: number, verdict: Join['verdict']): Join => ({ left, verdict, height: null, byHand: false });

/** A reading for tests, with two lines and no letter whose text is known. */
export const sampleReading: Reading = {
  engine: 'test',
  frame: { width: 210, height: 297, pxPerMm: 6, toPhoto: null, scaleSource: 'ruling', scaleSe: 0.01 },
  fitness: { checks: [] },
  ruling: { pitch: 8, rules: [[{ x: 0, y: 30 }, { x: 210, y: 30 }]] },
  lines: [
    { bounds: boxAt(0, 0, 9, 9), baseline: [{ x: 5, y: 30 }, { x: 95, y: 29 }], xHeight: 3, drift: null },
    { bounds: boxAt(0, 0, 9, 9), baseline: [{ x: 5, y: 38 }], xHeight: null, drift: null },
  ],
  words: [{ line: 0, bounds: boxAt(10, 20, 50), text: null, struck: false }],
  letters: [letterOf(null), letterOf(null, { class: 'tall', slant: 45 }), letterOf(null, { class: 'tail' })],
  joins: [],
  corrections: [{ kind: 'struckOnce', bounds: boxAt(1, 1, 1, 1), byHand: false }],
  text: null,
  measures: [
    { name: 'word_gap', outcome: 'measured', value: 1, se: 0.1, spread: null, n: 3, places: [boxAt(1, 2, 2, 2)] } as Measure,
    { name: 'offset', outcome: 'notMeasured', because: 'noRuling' } as Measure,
  ],
};
