import { describe, expect, it } from 'vitest';
import { Refused } from '../bridge/bridge';
import type { Settle } from '../bridge/types';
import { Starting, STEPS } from './starting.svelte';

function starting(): [Starting, Settle[]] {
  const told: Settle[] = [];
  return [new Starting(async (input) => void told.push(input)), told];
}

describe('the first start', () => {
  it('goes forward and back through all of it, and not beyond', () => {
    const [start] = starting();
    start.back();
    const seen = [start.step];
    for (let presses = 0; presses < 5; presses += 1) {
      start.next();
      seen.push(start.step);
    }
    expect(seen).toEqual(['what', 'where', 'whose', 'whose', 'whose', 'whose']);
    expect([start.place, start.last]).toEqual([STEPS.length, true]);
    start.back();
    expect([start.step, start.place]).toEqual(['where', 2]);
  });

  it('can be skipped to where something is chosen', () => {
    const [start] = starting();
    start.skip();
    expect(start.step).toBe('whose');
  });

  it('keeps what was chosen while somebody reads again', () => {
    const [start] = starting();
    start.skip();
    start.role = 'parent';
    start.name = 'Jo';
    start.back();
    start.next();
    expect([start.role, start.name, start.ready]).toEqual(['parent', 'Jo', true]);
  });

  it('settles nothing until whose and a name are said', async () => {
    const [start, told] = starting();
    expect(await start.begin()).toBe(false);
    start.role = 'tutor';
    start.name = '  ';
    expect(await start.begin()).toBe(false);
    start.name = ' Ms Wren ';
    expect(await start.begin()).toBe(true);
    expect(told).toEqual([{ role: 'tutor', name: 'Ms Wren' }]);
  });

  it('loses nothing that was typed where the program says no', async () => {
    const start = new Starting(() => Promise.reject(new Refused({ code: 'disk-full', message: 'a', whatToDo: 'b' })));
    start.role = 'tutor';
    start.name = 'Ms Wren';
    expect(await start.begin()).toBe(false);
    expect([start.name, start.doing.problem?.code, start.ready]).toEqual(['Ms Wren', 'disk-full', true]);
  });
});
