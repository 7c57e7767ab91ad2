import { describe, expect, it } from 'vitest';
import type { News } from '../bridge/types';
import { rowOf, taskOf } from '../pupil/sample';
import { cameText, factsText, taskText, toldText } from './status';

const TODAY = '2026-03-05';
const weekly = { lesson: { weekday: 'thursday', minute: 930 }, lastLesson: '2026-02-26', pages: 9 } as const;

describe('what came in', () => {
  it('is counted from the last lesson on', () => {
    expect(cameText(rowOf({ ...weekly, came: 2 }))).toBe('2 pages came since the lesson of 26 Feb');
    expect(cameText(rowOf({ ...weekly, came: 0 }))).toBe('No page came since the lesson of 26 Feb');
  });

  it('is what there is where there are no lessons', () => {
    expect(cameText(rowOf({}))).toBe('No pages yet');
    expect(cameText(rowOf({ pages: 3, lastPage: '2026-03-01' }))).toBe('3 pages, newest of 1 Mar');
  });
});

describe('the week’s task in words', () => {
  it.each([
    [{}, 'No task set'],
    [{ task: taskOf({ setOn: '2026-03-04' }) }, 'Task of 4 Mar: no page yet'],
    [{ ...weekly, task: taskOf({ setOn: '2026-02-26' }), answered: true }, 'Task of 26 Feb: a page came in'],
    [{ ...weekly, lessonToday: true, task: taskOf({ setOn: '2026-02-26' }) }, 'The next task is not set yet'],
  ])('%#', (of, text) => {
    expect(taskText(rowOf(of), TODAY)).toBe(text);
  });
});

describe('a line', () => {
  const better: News = { name: 'word_gap', aspect: 'gaps', kind: 'copied', verdict: 'better', fresh: true };

  it('has the year and the time', () => {
    expect(factsText(rowOf(weekly))).toBe('Year 3 · Thursdays at 15:30');
    expect(factsText(rowOf({ profile: null }))).toBe('');
  });

  it('says how things stand in short sentences', () => {
    const row = rowOf({ ...weekly, came: 0, task: taskOf({ setOn: '2026-02-26' }), news: [better, better] });
    expect(toldText(row, TODAY)).toBe(
      'Task of 26 Feb: no page yet. No page since 26 Feb. Space between words: better, by more than the ordinary up and down (copied), and 1 more.',
    );
    expect(toldText(rowOf({ ...row, news: [], unseen: 1 }), TODAY)).toBe('Task of 26 Feb: no page yet.');
  });
});
