import { describe, expect, it } from 'vitest';
import type { Reading } from '../bridge/types';
import { spotAgain, spotAt, spotsOf } from './places';
import { boxAt, joinOf, letterOf, sampleReading } from './sample';

const measured = (name: string, value: number, places: Reading['measures'][number][] | object[]) =>
  ({ name, outcome: 'measured', value, se: 0.1, spread: null, n: 3, places }) as unknown as Reading['measures'][number];

const reading: Reading = {
  ...sampleReading,
  lines: [
    { bounds: { x0: 5, y0: 20, x1: 95, y1: 32 }, baseline: [{ x: 5, y: 30 }, { x: 95, y: 29 }], xHeight: 3, drift: 0.6 },
    { bounds: { x0: 5, y0: 40, x1: 60, y1: 48 }, baseline: [{ x: 5, y: 46 }, { x: 60, y: 46 }], xHeight: 3, drift: null },
  ],
  words: [
    { line: 0, bounds: boxAt(10, 20, 12), text: 'an', struck: false },
    { line: 0, bounds: boxAt(28, 20, 4), text: 'l', struck: false },
  ],
  letters: [
    letterOf('a', { bounds: boxAt(10, 27, 4, 3), slant: -12 }),
    letterOf('n', { bounds: boxAt(16, 27, 4, 3), slant: 0.04 }),
    letterOf('l', { bounds: boxAt(28, 24, 2, 6), class: 'tall', word: 1, slant: 3 }),
    letterOf('g', { bounds: boxAt(40, 27, 4, 6), class: 'tail', word: 1, foot: { x: 42, y: 30 } }),
    letterOf('e', { bounds: boxAt(50, 27, 4, 3), confidence: 0.2, slant: 40 }),
  ],
  joins: [joinOf(0, 'missing')],
  measures: [
    measured('o_width', 4, []),
    measured('word_gap', 1, [boxAt(20, 27, 8, 3)]),
    measured('letter_gap', 0.5, [boxAt(14, 27, 2, 3)]),
  ],
};
const says = (aspect: Parameters<typeof spotsOf>[1]) => spotsOf(reading, aspect).map((spot) => spot.says);

describe('what a place says', () => {
  it('is how a line stands and climbs', () => {
    expect(says('baseline')).toEqual([
      'Line 1: 0.50 mm above the printed line, climbs 0.6°',
      'Line 2: no printed line was found for it',
    ]);
  });

  it('is the height, the reach and the lean of letters that the program is sure of', () => {
    expect(says('xHeight')).toEqual(['a, line 1: 3.00 mm high', 'n, line 1: 3.00 mm high']);
    expect(says('reach')).toEqual(['l, line 1: 2.00 x-heights up from the line', 'g, line 1: 1.00 x-heights down from the line']);
    expect(says('slant')).toEqual(['a, line 1: leans 12.0° back', 'n, line 1: upright', 'l, line 1: leans 3.0° forward']);
  });

  it('is how wide a gap is, and after what it comes', () => {
    expect(says('gaps')).toEqual(['After the a, line 1: 0.50 o-widths', 'After “an”, line 1: 2.00 o-widths']);
  });

  it('is how two letters are joined, and how a letter is formed', () => {
    expect(says('joins')).toEqual(['a to n, line 1: Not joined']);
    expect(says('form')[0]).toBe('Letter a, line 1: not joined');
    expect(says('corrections')).toEqual(['one line through']);
    expect(says(null)).toEqual([]);
  });
});

describe('the place that is meant', () => {
  const spots = spotsOf(reading, 'gaps');

  it('is the smallest under the finger, or the nearest within reach', () => {
    expect(spotAt(spots, { x: 15, y: 28 }, 0)?.at).toEqual(boxAt(14, 27, 2, 3));
    expect(spotAt(spots, { x: 29, y: 28 }, 1.5)?.at).toEqual(boxAt(20, 27, 8, 3));
    expect(spotAt(spots, { x: 31, y: 28 }, 1.5)).toBeNull();
    const [line] = spotsOf(reading, 'baseline');
    const within = { ...line!, at: boxAt(10, 22), says: 'small' };
    expect(spotAt([line!, within], { x: 12, y: 25 }, 0)?.says).toBe('small');
  });

  it('is found again in a later reading, unless it is gone', () => {
    const before = spots[0] ?? null;
    expect(spotAgain(spotsOf({ ...reading }, 'gaps'), before)?.says).toBe(before?.says);
    expect(spotAgain([], before)).toBeNull();
    expect(spotAgain(spots, null)).toBeNull();
  });
});
