import { describe, expect, it } from 'vitest';
import type { Chart } from '../bridge/types';
import { kindsOf, mostOf } from './kinds';

const chart = (kind: Chart['kind'], pages: string[]): Chart => ({
  name: 'slant',
  aspect: 'slant',
  unit: 'degrees',
  kind,
  points: pages.map((page) => ({ page, day: '2026-01-01', value: 1, se: 0.1 })),
  trend: null,
  noise: null,
  verdict: 'tooFewPages',
  aroundFocuses: [],
  start: null,
});

describe('the kinds of pages', () => {
  it('are those that have figures, each page counted once', () => {
    const kinds = kindsOf([chart('ownWords', ['a']), chart('copied', ['b', 'c']), chart('copied', ['c', 'd']), chart('dictated', [])]);
    expect(kinds).toEqual([{ kind: 'copied', pages: 3 }, { kind: 'ownWords', pages: 1 }]);
  });

  it('begin with the one that has most pages', () => {
    expect(mostOf([{ kind: 'copied', pages: 2 }, { kind: 'ownWords', pages: 5 }])?.kind).toBe('ownWords');
    expect(mostOf([{ kind: 'copied', pages: 2 }, { kind: 'ownWords', pages: 2 }])?.kind).toBe('copied');
    expect(mostOf([])).toBe(null);
  });
});
