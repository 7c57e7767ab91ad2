import { describe, expect, it } from 'vitest';
import type { AspectVerdict } from '../bridge/types';
import { verdictText } from './verdicts';

const of = (verdict: AspectVerdict['verdict'], more: Partial<AspectVerdict> = {}): AspectVerdict => ({
  aspect: 'gaps',
  kind: 'copied',
  verdict,
  pages: 12,
  ...more,
});

describe('what the history says of an aspect', () => {
  it.each([
    ['better', 'Better, by more than the ordinary up and down.'],
    ['worse', 'Less good, by more than the ordinary up and down.'],
    ['changed', 'Changed, by more than the ordinary up and down.'],
    ['notYet', 'Steady, with the ordinary up and down.'],
  ] as const)('%s is one sentence', (verdict, sentence) => {
    expect(verdictText('gaps', [of('better', { aspect: 'slant' }), of(verdict)])).toBe(sentence);
  });

  it('says how few pages are too few', () => {
    expect(verdictText('gaps', [of('tooFewPages', { pages: 3 })])).toBe('Too early to say (3 pages).');
    expect(verdictText('gaps', [])).toBe('No page shows it yet.');
  });

  it('takes kinds of which the same is said together', () => {
    const all = [of('better'), of('notYet', { kind: 'dictated' }), of('notYet', { kind: 'ownWords' })];
    expect(verdictText('gaps', all)).toBe('Copied: better, by more than the ordinary up and down. Dictated and own words: steady, with the ordinary up and down.');
  });

  it('goes kind by kind only where they differ', () => {
    const own = { kind: 'ownWords' } as const;
    expect(verdictText('gaps', [of('better'), of('better', own)])).toBe('Better, by more than the ordinary up and down.');
    expect(verdictText('gaps', [of('better'), of('tooFewPages', { ...own, pages: 1 })])).toBe(
      'Copied: better, by more than the ordinary up and down. Own words: too early to say (1 page).',
    );
  });
});
