import { describe, expect, it } from 'vitest';
import type { Reading } from '../bridge/types';
import { drawnOf, labelsOf, sampleOf } from './drawn';
import { againstRules, gapsOf, overlayOf, placesOf } from './overlay';
import { boxAt, joinOf, letterOf, sampleReading as reading } from './sample';

describe('what is drawn over a page', () => {
  it('shows nothing unless an aspect is chosen, and nothing for what is not measured', () => {
    for (const aspect of [null, 'form', 'joins'] as const) {
      expect(Object.values(overlayOf(reading, aspect)).flat()).toEqual([]);
    }
  });

  it('outlines letters with a fault, and apart from them those it is not sure of', () => {
    const found: Reading = {
      ...reading,
      letters: [
        letterOf('a', { faults: [{ kind: 'open', figure: 0.1 }] }),
        letterOf('d'),
        letterOf('o', { bounds: boxAt(20, 20), confidence: 0.49, faults: [{ kind: 'open', figure: 0.1 }] }),
        letterOf('e', { bounds: boxAt(30, 20), confidence: 0.1, byHand: true, faults: [{ kind: 'eyeClosed', figure: 0 }] }),
        letterOf(null, { confidence: 0.1 }),
      ],
      text: { fits: true, letters: 6, found: 3, skipped: [{ line: 0, letter: 'n', at: boxAt(40, 20) }], otherLines: [], extra: [boxAt(50, 20)] },
    };
    const { boxes, skipped } = overlayOf(found, 'form');
    expect(boxes).toEqual([
      { bounds: boxAt(10, 20), role: 'fault' },
      { bounds: boxAt(20, 20), role: 'unsure' },
      { bounds: boxAt(30, 20), role: 'fault' },
      { bounds: boxAt(50, 20), role: 'extra' },
    ]);
    expect(skipped.map(({ letter }) => letter)).toEqual(['n']);
  });

  it('takes a letter that a person says has no ink for no doubt of the program', () => {
    const boxes = (byHand: boolean) =>
      overlayOf({ ...reading, letters: [letterOf('a', { confidence: 0, byHand })] }, 'form').boxes;
    expect(boxes(true)).toEqual([]);
    expect(boxes(false).map(({ role }) => role)).toEqual(['unsure']);
  });

  it('shows each join that is expected, from the middle of a letter to the middle of the next, and at which height it runs', () => {
    const found: Reading = {
      ...reading,
      letters: [letterOf('a'), letterOf('n', { bounds: { x0: 15, y0: 19, x1: 21, y1: 30 } }), letterOf('d')],
      joins: [joinOf(0, 'missing'), { ...joinOf(1, 'joined'), height: 0.5 }, joinOf(2, 'wrongHeight')],
    };
    // The last join leads to no letter: it has no place.
    const { joins } = overlayOf(found, 'joins');
    expect(joins.map(({ verdict }) => verdict)).toEqual(['missing', 'joined']);
    expect(joins[0]).toMatchObject({ at: { x0: 12, y0: 19, x1: 18, y1: 30 }, low: null });
    // Half an x-height of 3 mm above a baseline that lies at 29.9 mm there.
    expect(joins[1]?.low).toBeCloseTo(28.4, 1);
  });

  it('holds the baseline against the printed rules', () => {
    const { rules, baselines, againstRules: against } = overlayOf(reading, 'baseline');
    expect([rules.length, baselines.length]).toEqual([1, 2]);
    // It climbs from the rule to 1 mm above it: half a millimetre on average. The line at 38 mm has no rule of its own.
    expect(against.map(({ line, offset }) => [line, offset])).toEqual([[0, 0.5]]);
    expect(againstRules({ ...reading, ruling: null })).toEqual([]);
  });

  it('bounds the band by the baseline and the top of the short letters', () => {
    const { bands, tops } = overlayOf(reading, 'xHeight');
    expect(bands).toEqual([[{ x: 5, y: 30 }, { x: 95, y: 29 }, { x: 95, y: 26 }, { x: 5, y: 27 }]]);
    expect(tops).toEqual([[{ x: 10, y: 20 }, { x: 14, y: 20 }]]);
  });

  it('takes only tall letters and tails for the reach', () => {
    const { rises, falls } = overlayOf(reading, 'reach');
    // The tall one from the short letters' height up, the tail from the line down.
    expect(rises).toEqual([[{ x: 12, y: 27 }, { x: 12, y: 20 }]]);
    expect(falls).toEqual([[{ x: 12, y: expect.closeTo(29.92, 2) }, { x: 12, y: 30 }]]);
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

describe('gaps between words', () => {
  it('are counted in widths of this writer’s own o, and not at all where none was found', () => {
    const o = { name: 'o_width', outcome: 'measured', value: 2.5, se: 0.1, spread: null, n: 3, places: [] } as unknown as Reading['measures'][number];
    const found: Reading = { ...reading, measures: [...reading.measures, o] };
    expect(gapsOf(found, 'word_gap')).toEqual([{ at: boxAt(1, 2, 2, 2), oWidths: 0.8 }]);
    expect(gapsOf(reading, 'word_gap')).toEqual([]);
    expect(labelsOf(overlayOf(found, 'gaps'), 210)).toEqual([{ at: { x: 2, y: 4 }, text: '0.8', side: 'below', anchor: 'middle' }]);
    // Without an o the places are shown all the same.
    expect(overlayOf(reading, 'gaps').boxes).toHaveLength(1);
  });
});

describe('what SVG draws', () => {
  it('is one path for a kind, however many shapes there are', () => {
    const letters = Array.from({ length: 300 }, (_, n) => letterOf('a', { bounds: boxAt(n, 20) }));
    const drawn = drawnOf(overlayOf({ ...reading, letters }, 'xHeight'));
    expect(drawn.map(({ kind }) => kind)).toEqual(['band', 'top']);
    expect(drawn[1]?.d.split('M')).toHaveLength(301);
  });

  it('tells made, missing and other joins apart by their shape', () => {
    const at = (verdict: 'joined' | 'missing' | 'wrongHeight') =>
      drawnOf(overlayOf({ ...reading, letters: [letterOf('a'), letterOf('n')], joins: [joinOf(0, verdict)] }, 'joins'))
        .map(({ kind, d }) => `${kind} ${d.replace(/[^A-Z]/g, '')}`);
    expect([at('joined'), at('missing'), at('wrongHeight')]).toEqual([
      ['made MQ'],
      ['missing MHVHZ', 'cross MLML'],
      ['wrongHeight MHVHZMLLZ'],
    ]);
  });

  it('says in words how far a line is from its rule', () => {
    const labels = labelsOf(overlayOf(reading, 'baseline'), 210);
    expect(labels.map(({ text, at }) => [text, at])).toEqual([['0.50 mm above', { x: 209, y: 29 }]]);
  });

  it('has a sample of each kind that fits into a legend', () => {
    for (const kind of ['rule', 'area', 'band', 'rise', 'fall', 'letterGap', 'caret', 'made', 'missing', 'wrongHeight', 'stroke', 'fault'] as const) {
      for (const { d } of sampleOf(kind)) {
        const numbers = d.match(/[\d.]+/g)?.map(Number) ?? [];
        expect(numbers.length > 1 && Math.max(...numbers) <= 12, `${kind}: ${d}`).toBe(true);
      }
    }
  });
});
