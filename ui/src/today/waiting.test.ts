import { describe, expect, it } from 'vitest';
import type { News, PupilRow } from '../bridge/types';
import { actsOf, freshNews, named, nextUnseenRow, parted, taskState } from './waiting';
import { rowOf, taskOf } from '../pupil/sample';

const TODAY = '2026-03-05';
const lesson = (minute: number): Partial<PupilRow> => ({
  lesson: { weekday: 'thursday', minute },
  lastLesson: '2026-02-26',
  lessonToday: true,
});
const set = (setOn: string, answered = false): Partial<PupilRow> => ({ task: taskOf({ setOn }), answered });
const names = (rows: readonly PupilRow[]) => rows.map((row) => row.profile?.name);

describe('the week’s task', () => {
  it.each<[string, Partial<PupilRow>, string]>([
    ['none was ever set', {}, 'none'],
    ['without lessons it stands until it is answered', set('2026-01-01'), 'open'],
    ['and then another is due', set('2026-03-04', true), 'due'],
    ['on the day of a lesson last week’s is due', { ...lesson(600), ...set('2026-02-26') }, 'due'],
    ['until it is set', { ...lesson(600), ...set(TODAY) }, 'open'],
    ['between lessons it stands', { ...lesson(600), lessonToday: false, ...set('2026-02-26') }, 'open'],
    ['answered too', { ...lesson(600), lessonToday: false, ...set('2026-02-26', true) }, 'answered'],
    ['one from before the last lesson is due', { ...lesson(600), lessonToday: false, ...set('2026-02-25') }, 'due'],
  ])('%s', (_, of, state) => {
    expect(taskState(rowOf(of), TODAY)).toBe(state);
  });
});

describe('what to do next', () => {
  it('is to look, then to set the task, then to pair', () => {
    expect(actsOf(rowOf({ nextUnseen: 'p', unseen: 1, devices: 0 }), TODAY)).toEqual(['look', 'task', 'pair']);
    expect(actsOf(rowOf({ devices: 1, ...set(TODAY) }), TODAY)).toEqual([]);
  });

  it('is no task for a pupil whose profile has not come yet', () => {
    expect(actsOf(rowOf({ profile: null, devices: 1 }), TODAY)).toEqual([]);
  });
});

describe('the day', () => {
  const rows = [
    rowOf({ ...set(TODAY) }, 'Bea'),
    rowOf({ ...lesson(930) }, 'Cyr'),
    rowOf({ nextUnseen: 'd', unseen: 2 }, 'Dot'),
    rowOf({ ...lesson(540), nextUnseen: 'e', unseen: 1 }, 'Eli'),
    rowOf({ devices: 0, ...set(TODAY) }, 'Fay'),
    rowOf({ asks: 1, ...set(TODAY) }, 'Gus'),
    rowOf({}, 'Hal'),
    rowOf({ nextUnseen: 'i', unseen: 1 }, 'Ivy'),
  ];

  it('has lessons by time, then the others by what waits and in the tutor’s order', () => {
    const { lessons, waiting, rest } = parted(rows, TODAY);
    expect(names(lessons)).toEqual(['Eli', 'Cyr']);
    expect(names(waiting)).toEqual(['Gus', 'Dot', 'Ivy', 'Hal', 'Fay']);
    expect(names(rest)).toEqual(['Bea']);
  });

  it('has nobody whose photograph waits among those with whom nothing does', () => {
    const { waiting, rest } = parted([...rows, rowOf({ photosWaiting: 1, ...set(TODAY) }, 'Jay')], TODAY);
    expect(names(waiting)).toEqual(['Gus', 'Dot', 'Ivy', 'Jay', 'Hal', 'Fay']);
    expect(names(rest)).toEqual(['Bea']);
  });

  it('leads to the pages of the lessons first, and past the one on the desk', () => {
    expect(nextUnseenRow(rows, TODAY)?.nextUnseen).toBe('e');
    expect(nextUnseenRow(rows, TODAY, 'e')?.nextUnseen).toBe('d');
    expect(nextUnseenRow([rowOf({})], TODAY)).toBe(null);
  });

  it('leaves the list that it was given as it was', () => {
    const before = names(rows);
    parted(rows, TODAY);
    expect(names(rows)).toEqual(before);
  });
});

describe('news', () => {
  const item = (fresh: boolean): News => ({ name: 'word_gap', aspect: 'gaps', kind: 'copied', verdict: 'better', fresh });

  it('is only what was not said before, and only a few of it', () => {
    expect(freshNews(rowOf({ news: [item(false)] }))).toEqual({ told: [], more: 0 });
    const many = [item(true), item(false), item(true), item(true), item(true), item(true)];
    const { told, more } = freshNews(rowOf({ news: many }));
    expect([told.length, told.every(({ fresh }) => fresh), more]).toEqual([3, true, 2]);
  });
});

describe('finding by name', () => {
  it('minds neither accents nor capitals', () => {
    const rows = [rowOf({}, 'Zo\u00eb'), rowOf({}, 'Azoe'), rowOf({}, 'Bea'), rowOf({ profile: null })];
    expect(names(named(rows, ' zoe '))).toEqual(['Zo\u00eb', 'Azoe']);
    expect(named(rows, '').length).toBe(4);
  });
});

