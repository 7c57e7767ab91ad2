import { describe, expect, it } from 'vitest';
import type { Aspect, Figure, MeasureName, Unit, WhyNot } from '../bridge/types';
import { ASPECTS } from '../words/format';
import { words } from '../words/words';
import { answerOf, focusSentence, verdictOf } from './answers';

const figure = (aspect: Aspect, name: MeasureName, unit: Unit, value: number | null, because: WhyNot | null = null): Figure => ({
  name,
  aspect,
  unit,
  value,
  se: null,
  spread: null,
  n: null,
  because,
  before: null,
  byHand: false,
});

describe('what a page shows', () => {
  it.each([
    ['baseline', [figure('baseline', 'on_line', 'share', 0.956)], '96 % of the letters stand on the printed line.'],
    ['baseline', [figure('baseline', 'on_line', 'share', null, 'noRuling'), figure('baseline', 'wander', 'mm', 0.234)],
      'Letters stray 0.23 mm up or down from their own line.'],
    ['xHeight', [figure('xHeight', 'x_height', 'mm', 3.14), figure('xHeight', 'x_height_cv', 'ratio', 0.118)],
      'Short letters are 3.14 mm high on average. Their heights differ by 12 %.'],
    ['reach', [figure('reach', 'descender_ratio', 'ratio', 0.8)], 'Tails go 0.80 times as deep as short letters are high.'],
    ['gaps', [figure('gaps', 'word_gap', 'oWidths', 1.3), figure('gaps', 'word_gap_cv', 'ratio', 0.31)],
      'Between words there is room for 1.30 letters o. These spaces differ by 31 %.'],
    ['slant', [figure('slant', 'slant', 'degrees', -3.6), figure('slant', 'slant_sd', 'degrees', 5.25)],
      'The downstrokes lean back by 4°. They differ by 5.3°.'],
    ['slant', [figure('slant', 'slant', 'degrees', 0.4)], 'The downstrokes stand upright.'],
    ['corrections', [figure('corrections', 'corrections', 'per100Words', 0)], 'No word was put right.'],
    ['corrections', [figure('corrections', 'corrections', 'per100Words', 4.2)], 'Of 100 words 4.2 were put right.'],
    ['joins', [figure('joins', 'joins_made', 'share', 0.5)], '50 % of the joins are made as taught.'],
    ['form', [figure('form', 'well_formed', 'share', 1)], 'In 100 % of the letters judged, nothing amiss was found.'],
  ] as [Aspect, Figure[], string][])('of %s is said in plain words', (aspect, figures, said) => {
    expect(answerOf(aspect, figures)).toBe(said);
  });

  it('is told only by the figures of its own aspect', () => {
    expect(answerOf('slant', [figure('gaps', 'word_gap', 'oWidths', 1.3)])).toBe(words.notMeasuredYet);
  });

  it('says why where nothing was measured', () => {
    const said = answerOf('joins', [figure('joins', 'joins_made', 'share', null, 'noJoins')]);
    expect(said).toBe('Not measured: the letters taught are not joined.');
  });
});

describe('what the pages show so far', () => {
  const verdicts = [
    { aspect: 'gaps', kind: 'copied', verdict: 'better', pages: 9 },
    { aspect: 'gaps', kind: 'ownWords', verdict: 'notYet', pages: 4 },
  ] as const;

  it('is of the same aspect and the same kind of page', () => {
    expect(verdictOf(verdicts, 'gaps', 'copied')).toBe('better');
    expect(verdictOf(verdicts, 'gaps', 'ownWords')).toBe('notYet');
    expect(verdictOf(verdicts, 'gaps', 'dictated')).toBe(null);
    expect(verdictOf(verdicts, 'slant', 'copied')).toBe(null);
  });

  it('is one sentence for every aspect and verdict, and none of them blames', () => {
    for (const aspect of ASPECTS) {
      for (const verdict of ['better', 'notYet', 'tooFewPages', 'worse', 'changed', null] as const) {
        const said = focusSentence(aspect, verdict);
        expect(said).toMatch(/^[A-Z].*\.$/);
        expect(said).not.toMatch(/bad|poor|fail|wrong|careless|messy/i);
      }
    }
    expect(focusSentence('gaps', 'better')).toContain('better');
    expect(focusSentence('gaps', 'notYet')).toContain('steady');
    expect(focusSentence('gaps', 'tooFewPages')).toContain('too early to say');
  });
});
