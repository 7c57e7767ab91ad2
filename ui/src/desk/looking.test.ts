import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { OfPage, PupilRow } from '../bridge/types';
import { Looking, nextOf } from './looking.svelte';

const row = (pupil: string, nextUnseen: string | null) => ({ pupil, nextUnseen, lessonToday: false, lesson: null, news: [], asks: 0, due: false }) as unknown as PupilRow;
const where = { pupil: 'p', page: 'q' };

describe('looking at pages', () => {
  it('finds the next one that nobody has looked at, but for the one on the desk', () => {
    expect(nextOf([row('a', null), row('p', 'q'), row('b', 'r')], 'q')).toEqual({ pupil: 'b', page: 'r' });
    expect(nextOf([row('p', 'q')], 'q')).toBeNull();
  });

  it('says that it was looked at, then goes on to what waits by then', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { look: {}, pupils: { pupils: [row('p', 's')] } as never };
    const to: (OfPage | null)[] = [];
    await new Looking(bridge, where).lookAndGo(false, (next) => to.push(next));
    expect(to).toEqual([{ pupil: 'p', page: 's' }]);
    expect(bridge.calls).toEqual([['look', where], ['pupils', {}]]);
  });

  it('goes on without saying it again', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { pupils: { pupils: [] } as never };
    const to: (OfPage | null)[] = [];
    await new Looking(bridge, where).lookAndGo(true, (next) => to.push(next));
    expect([to, bridge.calls.map(([verb]) => verb)]).toEqual([[null], ['pupils']]);
  });

  it('stays where it could not be said', async () => {
    const bridge = new FakeBridge();
    bridge.refusals.look = { code: 'disk-full', message: 'a', whatToDo: 'b' };
    const looking = new Looking(bridge, where);
    await looking.lookAndGo(false, () => expect.unreachable());
    expect(looking.doing.problem?.code).toBe('disk-full');
  });
});
