import { describe, expect, it } from 'vitest';
import type { Letter, Reading } from '../bridge/types';
import { findingsOf, overlayOf, placesOf } from './overlay';

const letter = (kind: Letter['class'], slant: number | null): Letter => ({
  line: 0,
  word: 0,
  bounds: { x0: 10, y0: 20, x1: 14, y1: 30 },
  class: kind,
  char: null,
  confidence: 1,
  slant,
  dot: null,
  bowl: null,
});

const reading: Reading = {
  engine: 'test',
  frame: { width: 210, height: 297, pxPerMm: 6, toPhoto: null, scaleSource: 'ruling', scaleSe: 0.01 },
  fitness: { checks: [] },
  ruling: { pitch: 8, rules: [[{ x: 0, y: 30 }, { x: 210, y: 30 }]] },
  lines: [
    { bounds: { x0: 0, y0: 0, x1: 9, y1: 9 }, baseline: [{ x: 5, y: 30 }, { x: 95, y: 29 }], xHeight: 3, drift: null },
    { bounds: { x0: 0, y0: 0, x1: 9, y1: 9 }, baseline: [{ x: 5, y: 38 }], xHeight: null, drift: null },
  ],
  words: [{ line: 0, bounds: { x0: 10, y0: 20, x1: 60, y1: 30 }, text: null, struck: false }],
  letters: [letter('short', null), letter('tall', 45), letter('tail', null)],
  joins: [],
  corrections: [{ kind: 'struckOnce', bounds: { x0: 1, y0: 1, x1: 2, y1: 2 } }],
  measures: [
    { name: 'word_gap', outcome: 'measured', value: 1, se: 0.1, spread: null, n: 3, places: [{ x0: 1, y0: 2, x1: 3, y1: 4 }] },
    { name: 'offset', outcome: 'notMeasured', because: 'noRuling' },
  ],
};

describe('what is drawn over a page', () => {
  it('shows nothing unless an aspect is chosen, and nothing for what is not measured', () => {
    for (const aspect of [null, 'form', 'joins'] as const) {
      expect(Object.values(overlayOf(reading, aspect)).flat()).toEqual([]);
    }
  });

  it('shows open bowls, and joins that are not in place', () => {
    const found: Reading = {
      ...reading,
      letters: [
        { ...letter('short', null), bowl: { open: true, ring: 0.1 } },
        { ...letter('short', null), bowl: { open: false, ring: 0.9 }, bounds: { x0: 15, y0: 19, x1: 21, y1: 30 } },
        letter('short', null),
      ],
      joins: [
        { left: 0, verdict: 'missing', height: null },
        { left: 1, verdict: 'joined', height: 0.8 },
        { left: 2, verdict: 'wrongHeight', height: 0.1 },
      ],
    };
    expect(overlayOf(found, 'form').boxes).toEqual([{ bounds: found.letters[0]?.bounds, role: 'open' }]);
    // The last join leads to no letter: it has no place.
    expect(overlayOf(found, 'joins').boxes).toEqual([{ bounds: { x0: 12, y0: 19, x1: 18, y1: 30 }, role: 'unjoined' }]);
    expect(findingsOf(found)).toEqual({
      bowls: { open: 1, all: 2 },
      joins: { joined: 1, missing: 1, wrongHeight: 1, all: 3 },
    });
  });

  it('holds the baseline against the printed rules', () => {
    const { rules, baselines } = overlayOf(reading, 'baseline');
    expect([rules.length, baselines.length]).toEqual([1, 2]);
  });

  it('bounds the band by the baseline and the top of the short letters', () => {
    const { bands, boxes } = overlayOf(reading, 'xHeight');
    expect(bands).toEqual([[{ x: 5, y: 30 }, { x: 95, y: 29 }, { x: 95, y: 26 }, { x: 5, y: 27 }]]);
    expect(boxes.map(({ role }) => role)).toEqual(['short']);
  });

  it('takes only tall letters and tails for the reach', () => {
    expect(overlayOf(reading, 'reach').boxes.map(({ role }) => role)).toEqual(['tall', 'tail']);
  });

  it('leans a stroke forward for a positive slant, from foot to head', () => {
    const [stroke] = overlayOf(reading, 'slant').strokes;
    expect(stroke?.[0]?.x).toBeCloseTo(7, 9);
    expect(stroke?.[0]?.y).toBe(30);
    expect(stroke?.[1]?.x).toBeCloseTo(17, 9);
    expect(stroke?.[1]?.y).toBe(20);
  });

  it('knows the places of a measured figure only', () => {
    expect(placesOf(reading, 'word_gap')).toHaveLength(1);
    expect(placesOf(reading, 'offset')).toEqual([]);
    expect(placesOf(reading, null)).toEqual([]);
  });
});
