import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { News, PupilRow } from '../bridge/types';
import { rowOf, taskOf } from '../pupil/sample';
import { show, textOf } from '../testing/mounted';
import LessonRow from './LessonRow.svelte';

const TODAY = '2026-03-05';
const PAGE = 'b'.repeat(32);
const lesson = { lesson: { weekday: 'thursday', minute: 930 }, lastLesson: '2026-02-26', lessonToday: true } as const;
const better: News = { name: 'word_gap', aspect: 'gaps', kind: 'copied', verdict: 'better', fresh: true };

function row(more: Partial<PupilRow>, set = () => undefined, setting = false) {
  const bridge = new FakeBridge();
  bridge.answers.draft = { text: null };
  return show(LessonRow, { row: rowOf(more), today: TODAY, setting, set, done: () => undefined }, { bridge, data: ['Ada'] });
}

describe('a lesson of the day', () => {
  it('is headed by the pupil, and leads there', async () => {
    const screen = await row({ ...lesson, pupil: 'a'.repeat(32) });
    expect(screen.texts('heading')).toEqual(['Ada']);
    expect(screen.one('link', 'Ada').getAttribute('href')).toBe(`#/pupil/${'a'.repeat(32)}`);
    expect(textOf(screen.root)).toContain('15:30');
  });

  it('says of which year the pupil is, and what is worked on', async () => {
    expect(textOf((await row(lesson)).root)).toContain('Year 3 · No focus set');
    expect(textOf((await row({ ...lesson, focus: 'gaps' })).root)).toContain('Year 3 · Focus: Gaps');
  });

  it('says how it stands with the week’s task', async () => {
    const screen = await row({ ...lesson, lessonToday: false, pages: 9, task: taskOf({ setOn: '2026-02-26' }) });
    expect(textOf(screen.root)).toContain('Task of 26 Feb: no page yet');
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
    expect(screen.texts('heading')).toEqual(['Ada', 'New on these pages']);
    const items = screen.texts('listitem');
    expect(items.slice(0, -1)).toEqual(
      ['copied', 'dictated', 'own words'].map((kind) => `Space between words: better, by more than the ordinary up and down (${kind})`),
    );
    expect(items.at(-1)).toBe('and 2 more, under Progress');
  });

  it('does not say that there is more where there is not', async () => {
    expect((await row({ ...lesson, pages: 9, news: [better] })).texts('listitem')).toHaveLength(1);
  });

  it('without news has no heading for it', async () => {
    const screen = await row({ ...lesson, pages: 9 });
    expect(screen.all('list')).toEqual([]);
    expect(screen.texts('heading')).toEqual(['Ada']);
    expect(textOf(screen.root)).not.toContain('not yet looked at');
  });

  it('sets the task from here, and says that the form opens', async () => {
    const set = vi.fn();
    const screen = await row({ ...lesson, pages: 9 }, set);
    expect(screen.one('button', 'Set the task for Ada').getAttribute('aria-expanded')).toBe('false');
    await screen.press('Set the task for Ada');
    expect(set).toHaveBeenCalledOnce();
    expect(screen.all('region')).toEqual([]);
    const open = await row({ ...lesson, pages: 9 }, set, true);
    expect(open.one('button', 'Set the task for Ada').getAttribute('aria-expanded')).toBe('true');
    open.one('region', 'This week’s task for Ada');
    expect(textOf(document.activeElement as Element)).toBe('This week’s task for Ada');
  });

  it('of a pupil without a family’s device offers to pair', async () => {
    const screen = await row({ ...lesson, devices: 0, task: taskOf({ setOn: TODAY }) });
    expect(screen.one('link', 'Pair with the family of Ada').getAttribute('href')).toContain('devices');
  });

  it('leads to photographs that wait to be kept', async () => {
    const name = async (photosWaiting: number) =>
      (await row({ ...lesson, pupil: 'a'.repeat(32), photosWaiting })).all('link').map((link) => [textOf(link), link.getAttribute('href')]);
    expect(await name(1)).toContainEqual(['1 photograph waits to be kept', `#/pupil/${'a'.repeat(32)}`]);
    expect(await name(3)).toContainEqual(['3 photographs wait to be kept', `#/pupil/${'a'.repeat(32)}`]);
    expect((await name(0)).flat().join(' ')).not.toContain('photograph');
  });

  it('tells of what the family wishes and of the day to erase', async () => {
    const screen = await row({ ...lesson, pupil: 'a'.repeat(32), asks: 2, due: true });
    for (const name of ['The family wishes 2 things to be forgotten', 'The day to erase this pupil has come']) {
      expect(screen.one('link', name).getAttribute('href')).toBe(`#/pupil/${'a'.repeat(32)}`);
    }
  });
});
