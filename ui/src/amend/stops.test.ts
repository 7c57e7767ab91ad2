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
});
