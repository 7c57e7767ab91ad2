import { describe, expect, it } from 'vitest';
import type { Reading } from '../bridge/types';
import { boxAt, joinOf, letterOf, sampleReading } from '../desk/sample';
import { found, isAmiss, stepped, stopAt, stopsOf } from './stops';

const reading: Reading = {
  ...sampleReading,
  letters: [
    letterOf('a', { bounds: boxAt(10, 20) }),
    letterOf('n', { bounds: boxAt(20, 20), faults: [{ kind: 'readsAsOther', figure: 0.6 }] }),
    letterOf(null, { bounds: boxAt(30, 20) }),
    letterOf('a', { bounds: boxAt(10, 40), line: 1, faults: [{ kind: 'open', figure: 0.1 }], confidence: 0.3 }),
    letterOf('d', { bounds: boxAt(13, 40), line: 1 }),
  ],
  joins: [joinOf(0, 'missing'), joinOf(3, 'joined')],
  text: { fits: true, letters: 5, found: 4, skipped: [{ line: 0, letter: 'e', at: boxAt(15, 20) }], otherLines: [], extra: [] },
};
const stops = stopsOf(reading, 'form');
const chars = stops.map(({ char }) => char).join('');

describe('going over the letters of a page', () => {
  it('takes them as they are read, those not found among them, and leaves out what has no letter', () => {
    expect(chars).toBe('aenad');
    expect(stopsOf(sampleReading, null)).toEqual([]);
    expect(stopsOf(reading, 'corrections').map(({ of }) => of)).toEqual(['correction']);
  });

  it('knows the join of a letter and where it leads', () => {
    const [first, , , last] = stops;
    expect(first?.of === 'letter' && [first.join?.verdict, first.next]).toEqual(['missing', 'n']);
    expect(last?.of === 'letter' && [last.join?.verdict, last.next]).toEqual(['joined', 'd']);
  });

  it('stops at what there is to look at, for the aspect that is shown', () => {
    const amiss = (aspect: 'form' | 'joins') => stops.filter((stop) => isAmiss(stop, aspect)).map(({ char }) => char);
    // The second a has a fault, but the program is not sure of it.
    expect(amiss('form')).toEqual(['e', 'n']);
    expect(amiss('joins')).toEqual(['a', 'e']);
  });

  it('steps one on or back and stays at the ends', () => {
    const [first, second] = stops;
    expect(stepped(stops, null, 1, null)).toBe(first);
    expect(stepped(stops, null, -1, null)).toBe(stops.at(-1));
    expect(stepped(stops, first ?? null, 1, null)).toBe(second);
    expect(stepped(stops, first ?? null, -1, null)).toBeNull();
    expect(stepped(stops, stops[2] ?? null, 1, (stop) => isAmiss(stop, 'form'))).toBeNull();
    expect(stepped(stops, stops[2] ?? null, -1, (stop) => isAmiss(stop, 'form'))).toBe(second);
  });
});

describe('what was picked', () => {
  it('is the letter under the finger, or the nearest within reach', () => {
    expect(stopAt(stops, { x: 12, y: 25 }, 0)?.at).toEqual(boxAt(10, 20));
    expect(stopAt(stops, { x: 24.5, y: 25 }, 1)?.char).toBe('n');
    expect(stopAt(stops, { x: 26, y: 25 }, 1)).toBeNull();
    // Both boxes hold the point: the one whose middle is nearer is meant.
    expect(stopAt(stops, { x: 13.8, y: 45 }, 1)?.char).toBe('d');
    expect(stopAt(stops, { x: 13.2, y: 45 }, 1)?.char).toBe('a');
  });

  it('is found again in a later reading by letter and place', () => {
    const shifted = boxAt(10.5, 19.5);
    expect(found(stops, { at: shifted, char: 'a' })).toBe(stops[0]);
    expect(found(stops, { at: shifted, char: 'b' })).toBeNull();
    expect(found(stops, { at: boxAt(100, 100), char: 'a' })).toBeNull();
    expect(found(stops, null)).toBeNull();
  });

  it('shares three tenths of what both boxes cover, as for the engine, and of several is the best', () => {
    // Of two boxes of 4 mm by 10 mm, moved apart by x: (4 − x) / (4 + x) is shared.
    expect(found(stops, { at: boxAt(12.1, 20), char: 'a' })).toBe(stops[0]);
    expect(found(stops, { at: boxAt(12.2, 20), char: 'a' })).toBeNull();
    // A large box about it shares all of the letter, but is another place.
    expect(found(stops, { at: boxAt(8, 15, 8, 20), char: 'a' })).toBeNull();
    expect(found(stops, { at: boxAt(0, 0, 0, 0), char: 'a' })).toBeNull();
    const near = [boxAt(50, 20), boxAt(51, 20)].map((bounds) => letterOf('o', { bounds }));
    const [one, other] = stopsOf({ ...sampleReading, letters: near }, 'form');
    expect(found([one!, other!], { at: boxAt(50.4, 20), char: 'o' })).toBe(one);
    expect(found([one!, other!], { at: boxAt(50.6, 20), char: 'o' })).toBe(other);
  });

  it('is the letter put by hand whose ink lies in the box drawn for it, however large that is', () => {
    const put = letterOf('a', { bounds: boxAt(60, 20), byHand: true });
    const drawn = { at: boxAt(50, 15, 20, 30), char: 'a', drawn: true };
    const after = stopsOf({ ...reading, letters: [letterOf('a', { bounds: boxAt(54, 20) }), put] }, 'form');
    expect(found(after, drawn)?.at).toEqual(put.bounds);
    expect(found(after, { ...drawn, drawn: false })).toBeNull();
    expect(found(after, { ...drawn, at: boxAt(70, 20) })).toBeNull();
  });
});

describe('letters left out side by side', () => {
  const skippedAt = (...boxes: Reading['lines'][number]['bounds'][]): Reading => ({
    ...reading,
    text: { ...reading.text!, skipped: boxes.map((at) => ({ line: 0, letter: 'l', at })) },
  });
  /** What is gone through from the first to the last, picking each and finding it again. */
  const walked = (one: Reading) => {
    const all = stopsOf(one, 'form');
    const gone = [];
    let to = stepped(all, null, 1, null);
    while (to && gone.length <= all.length) {
      gone.push(all.indexOf(to));
      to = stepped(all, found(all, { ...to }), 1, null);
    }
    return { gone, all };
  };

  it('are each come to, though they share one box', () => {
    for (const doubled of [skippedAt(boxAt(15, 20), boxAt(15, 20)), skippedAt(boxAt(15, 20), boxAt(17, 20))]) {
      const { gone, all } = walked(doubled);
      expect(all.filter(({ char }) => char === 'l')).toHaveLength(2);
      expect(gone).toEqual(all.map((_, index) => index));
    }
  });

  it('are found again each by itself, and the one that is left when the other was put in', () => {
    const [, one, other] = stopsOf(skippedAt(boxAt(15, 20), boxAt(15, 20)), 'form');
    expect([one?.nth, other?.nth]).toEqual([0, 1]);
    const again = stopsOf(skippedAt(boxAt(15, 20), boxAt(15, 20)), 'form');
    expect([found(again, one!), found(again, other!)]).toEqual([again[1], again[2]]);
    expect(found(again, other!)).toBe(again[2]);
    const left = stopsOf(skippedAt(boxAt(15, 20)), 'form');
    expect(found(left, other!)).toBe(left[1]);
  });
});
