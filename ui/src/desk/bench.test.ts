import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Session } from '../shell/session.svelte';
import { benchOf } from './bench.svelte';

const session = () => ({ bridge: new FakeBridge() }) as unknown as Session;

describe('what stays from page to page', () => {
  it('is one bench for as long as the program is open', () => {
    const [one, other] = [session(), session()];
    benchOf(one).look.turn('gaps');
    benchOf(one).panel = 'marks';
    expect([benchOf(one).look.aspect, benchOf(one).panel]).toEqual(['gaps', 'marks']);
    expect(benchOf(other).look.aspect).toBeNull();
  });

  it('opens one panel at a time, and folds it away again', () => {
    const bench = benchOf(session());
    bench.turn('read');
    bench.turn('marks');
    expect(bench.panel).toBe('marks');
    bench.turn('marks');
    expect(bench.panel).toBeNull();
  });

  it('keeps what was done on each page apart from the others', () => {
    const bench = benchOf(session());
    const acts = (page: string) => bench.acts({ pupil: 'p', page });
    acts('a').history.did({ name: 'one', undo: async () => undefined, redo: async () => undefined });
    expect([acts('a').history.last?.name, acts('b').history.last]).toEqual(['one', null]);
  });
});
