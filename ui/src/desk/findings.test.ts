import { describe, expect, it } from 'vitest';
import type { Fault, FaultKind, Measure, Reading } from '../bridge/types';
import { findingsOf, legendOf, meaningsOf, toldOf } from './findings';
import { boxAt, joinOf, letterOf, sampleReading } from './sample';

const faults = (...kinds: FaultKind[]): Fault[] => kinds.map((kind) => ({ kind, figure: 0.2 }));

const reading: Reading = {
  ...sampleReading,
  letters: [
    letterOf('d', { faults: faults('apart') }),
    letterOf('d', { faults: faults('apart', 'open') }),
    letterOf('n'),
    letterOf('b', { confidence: 0.2, faults: faults('reversed') }),
    letterOf(null, { faults: faults('open') }),
  ],
  text: { fits: true, letters: 6, found: 3, skipped: [{ line: 0, letter: 'e', at: boxAt(1, 1) }], otherLines: [], extra: [] },
  joins: [joinOf(0, 'joined'), joinOf(1, 'missing'), joinOf(2, 'wrongHeight'), joinOf(3, 'missing')],
};

describe('what is told beside the figures', () => {
  it('counts faults of letters that are sure only, the most frequent first', () => {
    expect(findingsOf(reading)).toEqual({
      faults: [
        { kind: 'apart', n: 2, letters: ['d'] },
        { kind: 'open', n: 1, letters: ['d'] },
      ],
      unsure: 1,
      skipped: 1,
      extra: 0,
      otherLines: 0,
      joins: { joined: 1, missing: 2, wrongHeight: 1, all: 4 },
    });
  });

  it('counts a letter that a person says has no ink neither among the unsure nor its faults', () => {
    const none = letterOf('o', { confidence: 0, byHand: true, faults: faults('open') });
    const more = { ...reading, letters: [...reading.letters, none] };
    expect(findingsOf(more)).toEqual(findingsOf(reading));
    expect(findingsOf({ ...more, letters: [...reading.letters, { ...none, byHand: false }] }).unsure).toBe(2);
  });

  it('says it in plain words', () => {
    expect(toldOf(reading, 'form').slice(0, 2)).toEqual([
      '2 letters (d) come out in two parts, like c and l.',
      '1 letter (d) is left open.',
    ]);
    expect(toldOf(reading, 'joins')).toEqual([
      '1 of 4 joins are in place.',
      '2 joins are missing.',
      '1 join is made at another height than taught.',
    ]);
  });

  it('says when nothing is amiss, and nothing at all where no letter is known', () => {
    const formed = { name: 'well_formed', outcome: 'measured', value: 1, se: 0.1, spread: null, n: 30, places: [] };
    const clean = {
      ...reading,
      letters: [letterOf('a')],
      joins: [joinOf(0, 'joined')],
      measures: [formed as unknown as Measure],
    };
    expect(toldOf(clean, 'form')[0]).toBe('In the letters that could be judged, nothing amiss was found.');
    expect(toldOf(clean, 'joins')).toEqual(['1 of 1 joins are in place.']);
    expect(toldOf({ ...clean, measures: [] }, 'form')).toEqual([]);
    expect(toldOf(sampleReading, 'form')).toEqual([]);
    expect(toldOf(sampleReading, 'joins')).toEqual([]);
  });

  it('says which lines were left out because they read as another text', () => {
    const text = { ...reading.text!, otherLines: [1, 4] };
    expect(toldOf({ ...reading, text }, 'form')).toContain(
      '2 lines do not read as the text typed for them; their letters are left out of the figures.',
    );
  });

  it('explains only the outlines that are there', () => {
    expect(legendOf(reading, 'form')).toEqual([
      'Outlined: a letter with something to look at.',
      'Dotted: the program is not sure of 1 letter; left out of the figures.',
      'An arrowhead below the line: 1 letter of the text not found here.',
    ]);
    expect(meaningsOf(reading, 'joins').map(({ kind }) => kind)).toEqual(['made', 'missing', 'wrongHeight']);
    expect(legendOf(sampleReading, 'form')).toEqual([]);
    expect(legendOf(reading, 'slant')).toEqual([]);
  });
});
