import { describe, expect, it } from 'vitest';
import type { Reading } from '../bridge/types';
import { overlayOf, placesOf } from './overlay';
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

  it('outlines joins that are not as taught, from the middle of a letter to the middle of the next', () => {
    const found: Reading = {
      ...reading,
      letters: [letterOf('a'), letterOf('n', { bounds: { x0: 15, y0: 19, x1: 21, y1: 30 } }), letterOf('d')],
      joins: [joinOf(0, 'missing'), joinOf(1, 'joined'), joinOf(2, 'wrongHeight')],
    };
    // The last join leads to no letter: it has no place.
    expect(overlayOf(found, 'joins').boxes).toEqual([{ bounds: { x0: 12, y0: 19, x1: 18, y1: 30 }, role: 'missing' }]);
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
