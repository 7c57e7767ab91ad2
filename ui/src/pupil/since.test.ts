import { describe, expect, it } from 'vitest';
import type { HomeView } from '../bridge/types';
import { sinceTexts } from './since';

const practised = (day: string, minutes: number) => ({ id: day, day, minutes, task: null });
const reply = (at: Date) => ({ id: String(at), page: 'p', mark: null, words: 'a', madeAt: at.getTime(), by: 'd' });
const home = (more: Partial<HomeView>): HomeView => ({ practised: [], setups: [], replies: [], targets: [], note: null, ...more });

describe('what happened at home since the last lesson', () => {
  it('counts its own day too', () => {
    const view = home({
      practised: [practised('2026-03-01', 10), practised('2026-02-26', 5), practised('2026-02-25', 40)],
      replies: [reply(new Date(2026, 1, 26, 0, 10)), reply(new Date(2026, 1, 25, 23, 50))],
    });
    expect(sinceTexts(view, '2026-02-26')).toEqual(['15 minutes of practice noted since 26 Feb', 'The family wrote something']);
  });

  it('is nothing where nothing happened, or there was no lesson', () => {
    expect(sinceTexts(home({ practised: [practised('2026-01-01', 10)] }), '2026-02-26')).toEqual([]);
    expect(sinceTexts(home({ practised: [practised('2026-01-01', 10)] }), null)).toEqual([]);
  });
});
