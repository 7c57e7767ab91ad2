import { describe, expect, it } from 'vitest';
import type { Figure, PageRow, TaskKind } from '../bridge/types';
import { firstOther, others, pairsOf, stepFrom } from './comparing';

const row = (page: string, writtenOn: string, kind: TaskKind = 'copied') => ({ page, writtenOn, kind }) as PageRow;
const pages = [
  row('e', '2026-05-01'),
  row('d', '2026-04-01', 'ownWords'),
  row('c', '2026-03-01', 'ownWords'),
  row('b', '2026-02-01'),
  row('a', '2026-01-01'),
];
const ids = (rows: readonly PageRow[]) => rows.map(({ page }) => page).join('');

describe('the page to set beside', () => {
  it('is any other one, those of the same kind first', () => {
    expect(ids(others(pages, 'b'))).toBe('eadc');
    expect(ids(others(pages, 'd'))).toBe('ceba');
  });

  it('is to begin with the one before it of its own kind', () => {
    expect(firstOther(pages, 'e')).toBe('b');
    expect(firstOther(pages, 'd')).toBe('c');
  });

  it('is of another kind where none of its own was before, and a later one where it is the first', () => {
    expect(firstOther(pages, 'c')).toBe('b');
    expect(firstOther(pages, 'a')).toBe('e');
    expect(firstOther(pages.slice(0, 1), 'e')).toBeNull();
  });

  it('is stepped through in time, past the page itself, and not beyond the ends', () => {
    expect(stepFrom(pages, 'd', 'earlier', 'c')).toBe('b');
    expect(stepFrom(pages, 'b', 'later', 'c')).toBe('d');
    expect(stepFrom(pages, 'a', 'earlier', 'c')).toBeNull();
    expect(stepFrom(pages, 'e', 'later', 'c')).toBeNull();
    expect(stepFrom(pages, 'x', 'later', 'c')).toBeNull();
  });
});

describe('figures of both pages', () => {
  const figure = (name: string, aspect: string, value: number) => ({ name, aspect, value }) as Figure;

  it('stand in pairs, and one alone where the other page has none', () => {
    const here = [figure('word_gap', 'gaps', 1), figure('slant', 'slant', 3)];
    const there = [figure('word_gap', 'gaps', 2), figure('letter_gap', 'gaps', 0.3)];
    const pairs = pairsOf(here, there, 'gaps').map(({ name, here, there }) => [name, here?.value, there?.value]);
    expect(pairs).toEqual([['word_gap', 1, 2], ['letter_gap', undefined, 0.3]]);
    expect(pairsOf(here, there, null)).toEqual([]);
  });
});
