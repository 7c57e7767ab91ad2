import { describe, expect, it, vi } from 'vitest';
import type { News, PupilRow } from '../bridge/types';
import { rowOf, taskOf } from '../pupil/sample';
import { show, textOf } from '../testing/mounted';
import LessonRow from './LessonRow.svelte';

const TODAY = '2026-03-05';
const PAGE = 'b'.repeat(32);
const lesson = { lesson: { weekday: 'thursday', minute: 930 }, lastLesson: '2026-02-26', lessonToday: true } as const;
const better: News = { name: 'word_gap', aspect: 'gaps', kind: 'copied', verdict: 'better', fresh: true };

function row(more: Partial<PupilRow>, set = () => undefined) {
  return show(LessonRow, { row: rowOf(more), today: TODAY, setting: false, set, done: () => undefined }, { data: ['Ada'] });
}

describe('a lesson of the day', () => {
  it('is headed by the pupil, and leads there', async () => {
    const screen = await row({ ...lesson, pupil: 'a'.repeat(32) });
    expect(screen.texts('heading')).toEqual(['Ada']);
    expect(screen.one('link', 'Ada').getAttribute('href')).toBe(`#/pupil/${'a'.repeat(32)}`);
    expect(textOf(screen.root)).toContain('15:30');
  });

  it('leads to the page that waits, named for whoever hears links out of their place', async () => {
    const screen = await row({ ...lesson, pages: 9, came: 2, unseen: 2, nextUnseen: PAGE, task: taskOf({ setOn: '2026-02-26' }) });
    expect(textOf(screen.root)).toContain('2 pages came since the lesson of 26 Feb');
    expect(textOf(screen.root)).toContain('2 pages not yet looked at');
    expect(screen.one('link', 'Look at the new page of Ada').getAttribute('href')).toContain(PAGE);
  });

  it('tells what is new on the pages, and how much more there is', async () => {
    const news = Array.from({ length: 5 }, () => better).map((one, index) => ({
      ...one,
      kind: (['copied', 'dictated', 'ownWords'] as const)[index % 3] ?? 'copied',
      name: (index < 3 ? 'word_gap' : 'slant') as News['name'],
    }));
    const screen = await row({ ...lesson, pages: 9, came: 1, news });
    const items = screen.texts('listitem');
    expect(items[0]).toBe('Space between words: better, more than noise (copied)');
    expect(items.at(-1)).toMatch(/^and \d more, under Progress$/);
  });

  it('without news has no heading for it', async () => {
    const screen = await row({ ...lesson, pages: 9 });
    expect(screen.all('list')).toEqual([]);
  });

  it('sets the task from here, and says that the form opens', async () => {
    const set = vi.fn();
    const screen = await row({ ...lesson, pages: 9 }, set);
    expect(screen.one('button', 'Set the task for Ada').getAttribute('aria-expanded')).toBe('false');
    await screen.press('Set the task for Ada');
    expect(set).toHaveBeenCalledOnce();
  });

  it('of a pupil without a family’s device offers to pair', async () => {
    const screen = await row({ ...lesson, devices: 0, task: taskOf({ setOn: TODAY }) });
    expect(screen.one('link', 'Pair with the family of Ada').getAttribute('href')).toContain('devices');
  });

  it('tells of what the family wishes and of the day to erase', async () => {
    const screen = await row({ ...lesson, asks: 2, due: true });
    screen.one('link', 'The family wishes 2 things to be forgotten');
    screen.one('link', 'The day to erase this pupil has come');
  });
});
