import { describe, expect, it } from 'vitest';
import type { Amendment, AmendmentRecord, BoxMm } from '../bridge/types';
import { drawnOfSheet, labelsOfSheet, meaningsOfSheet, saidOfSheet } from './ofSheet';
import { sampleOf } from './drawn';
import { boxAt } from './sample';

const record = (what: Amendment, id = 'a'): AmendmentRecord => ({ id, page: 'p', what }) as AmendmentRecord;
const notWriting = (at: BoxMm) => record({ about: 'notWriting', at });
const line = (at: BoxMm) => record({ about: 'line', at });

/** The straight pieces of a path, end to end. */
function pieces(d: string): [number, number][][] {
  return d
    .split('M')
    .filter((part) => /^[\d. ]+L/.test(part))
    .map((part) => part.split('L').map((point) => point.split(' ').map(Number) as [number, number]));
}

describe('what a person said of the sheet', () => {
  it('is drawn for each kind by a form of its own, and nothing else is', () => {
    const drawn = drawnOfSheet([
      line(boxAt(10, 60, 150, 9)),
      notWriting(boxAt(10, 20, 30, 20)),
      record({ about: 'correction', at: boxAt(1, 1), kind: null }),
      notWriting(boxAt(100, 20, 30, 20)),
    ]);
    expect(drawn.map(({ kind }) => kind)).toEqual(['leftOut', 'givenLine']);
    // Two boxes are closed; brackets are open.
    expect(drawn.map(({ d }) => d.split('Z').length - 1)).toEqual([2, 0]);
    expect(drawnOfSheet([record({ about: 'letter', at: boxAt(1, 1), letter: 'a', bounds: null })])).toEqual([]);
  });

  it('hatches all of a box and nothing outside it', () => {
    const at = boxAt(10, 20, 30, 20);
    const lines = pieces(drawnOfSheet([notWriting(at)])[0]?.d ?? '');
    for (const [x, y] of lines.flat()) expect(x >= 10 && x <= 40 && y >= 20 && y <= 40, `${x} ${y}`).toBe(true);
    // They run upwards at 45°, so that each leads from one edge to another.
    for (const [from, to] of lines) expect((to?.[0] ?? 0) - (from?.[0] ?? 0)).toBeCloseTo((from?.[1] ?? 0) - (to?.[1] ?? 0), 1);
    // 50 mm around the corner at 4 mm: 12 lines.
    expect(lines).toHaveLength(12);
  });

  it('puts brackets at both ends of a line, that do not meet', () => {
    const [left, right] = pieces(drawnOfSheet([line(boxAt(10, 60, 6, 9))])[0]?.d ?? '');
    expect(left?.map(([x]) => x)).toEqual([12, 10, 10, 12]);
    expect(right?.map(([x]) => x)).toEqual([14, 16, 16, 14]);
  });

  it('is written within what is left out, and said with how many there are', () => {
    const all = [notWriting(boxAt(10, 20)), line(boxAt(10, 60, 150, 9)), line(boxAt(10, 70, 150, 9))];
    expect(labelsOfSheet(all).map(({ text, at, side }) => [text, at, side])).toEqual([
      ['left out', { x: 10, y: 20 }, 'below'],
    ]);
    expect(saidOfSheet(all)).toEqual([
      '1 place on it is left out of the figures, as no writing of the pupil’s.',
      '2 lines on it were shown by hand.',
    ]);
    expect(saidOfSheet([])).toEqual([]);
  });

  it('is explained only where it is there, with a sample that fits into a legend', () => {
    expect(meaningsOfSheet([line(boxAt(1, 1))]).map(({ kind }) => kind)).toEqual(['givenLine']);
    expect(meaningsOfSheet([notWriting(boxAt(1, 1))]).map(({ kind, means }) => [kind, means.split(':')[0]])).toEqual([['leftOut', 'Hatched']]);
    expect(meaningsOfSheet([])).toEqual([]);
    for (const kind of ['leftOut', 'givenLine'] as const) {
      const numbers = sampleOf(kind)[0]?.d.match(/[\d.]+/g)?.map(Number) ?? [];
      expect(numbers.length > 8 && Math.max(...numbers) <= 12, kind).toBe(true);
    }
  });
});
