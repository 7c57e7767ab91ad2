import { describe, expect, it } from 'vitest';
import type { Practised } from '../bridge/types';
import { byWeek, lengthOf, mondayOf } from './practice';

const done = (day: string, minutes: number): Practised => ({ id: day, day, minutes, task: null });

describe('the weeks of practice', () => {
  it('begin on a Monday (ISO 8601)', () => {
    // 2026-03-02 is a Monday; ISO 8601-1 has 2000-01-01 as a Saturday.
    expect(['2026-03-02', '2026-03-08', '2026-03-09'].map(mondayOf)).toEqual(['2026-03-02', '2026-03-02', '2026-03-09']);
    expect(mondayOf('2000-01-01')).toBe('1999-12-27');
  });

  it('add up what was done, the newest first, a day that comes twice as one', () => {
    const weeks = byWeek([done('2026-03-05', 10), done('2026-03-03', 5), done('2026-03-05', 5), done('2026-02-20', 20)]);
    expect(weeks).toEqual([
      { monday: '2026-03-02', minutes: 20, days: [{ day: '2026-03-03', minutes: 5 }, { day: '2026-03-05', minutes: 15 }] },
      { monday: '2026-02-16', minutes: 20, days: [{ day: '2026-02-20', minutes: 20 }] },
    ]);
  });

  it('have bars against the longest of them', () => {
    const weeks = byWeek([done('2026-03-05', 10), done('2026-02-20', 40)]);
    expect(weeks.map((week) => lengthOf(week, weeks))).toEqual([0.25, 1]);
    expect(byWeek([])).toEqual([]);
  });
});
