import { describe, expect, it } from 'vitest';
import type { Ask, AskedFor, KeepingView, PageRow, PupilView } from '../bridge/types';
import { isAsked, pageOf, wishText } from './wishes';

const ask = (wish: AskedFor): Ask => ({ id: 'a', wish, madeAt: 0, by: 'd' });
const row: PageRow = {
  page: 'one', task: null, writtenOn: '2026-03-04', kind: 'copied', picture: null, marks: 0, lookedAt: false, starting: false,
  withTutor: null, figures: [],
};
const view: PupilView = {
  pupil: 'p', profile: null, tasks: [], pages: [row], focuses: [], lettersAllowed: false, newer: false,
};
const keeping = (...wishes: AskedFor[]): KeepingView => ({
  deleteBy: null, due: false, asks: wishes.map(ask), historyBytes: 0, oldestPage: null, lacks: { pages: 0, newer: false },
});

describe('a wish', () => {
  it('about a page names its day, and leads to it', () => {
    const wish = ask({ what: 'page', page: 'one' });
    expect([pageOf(wish, view), wishText(wish, view)]).toEqual([row, 'The page of 4 March 2026']);
  });

  it('about a page that is gone leads nowhere', () => {
    const wish = ask({ what: 'page', page: 'two' });
    expect([pageOf(wish, view), wishText(wish, view)]).toEqual([null, 'A page that is not here any more']);
  });

  it('about everything is about no page', () => {
    expect(pageOf(ask({ what: 'everything' }), view)).toBe(null);
  });

  it('for a page and for everything are not taken for each other', () => {
    const page = keeping({ what: 'page', page: 'one' });
    expect([isAsked(page, 'one'), isAsked(page, 'two'), isAsked(page, null)]).toEqual([true, false, false]);
    const everything = keeping({ what: 'everything' });
    expect([isAsked(everything, 'one'), isAsked(everything, null)]).toEqual([false, true]);
    expect(isAsked(null, null)).toBe(false);
  });
});
