import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Starting } from './starting.svelte';

const [PUPIL, ONE, OTHER] = ['1', '2', '3'].map((id) => id.padStart(32, '0')) as [string, string, string];

describe('the pages that stand as the starting point', () => {
  it('are kept in the order in which they were ticked, none left out', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { set_starting: {} };
    const starting = new Starting(bridge, PUPIL);
    await Promise.all([starting.set(ONE, true), starting.set(OTHER, true), starting.set(ONE, false)]);
    expect(bridge.calls.map(([, input]) => input)).toEqual([
      { pupil: PUPIL, page: ONE, starting: true },
      { pupil: PUPIL, page: OTHER, starting: true },
      { pupil: PUPIL, page: ONE, starting: false },
    ]);
    expect([starting.problem, starting.refused]).toEqual([null, 0]);
  });

  it('say so when one could not be kept, and go on with the next', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { set_starting: {} };
    bridge.refusals = { set_starting: { code: 'a', message: 'b', whatToDo: 'c' } };
    const starting = new Starting(bridge, PUPIL);
    await starting.set(ONE, true);
    expect([starting.problem?.code, starting.refused]).toEqual(['a', 1]);
    bridge.refusals = {};
    await starting.set(ONE, true);
    expect(starting.problem).toBe(null);
  });
});
