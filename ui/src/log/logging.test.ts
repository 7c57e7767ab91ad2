import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { HELD_MS, Logging, offeredMinutes } from './logging.svelte';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function logging(): [Logging, FakeBridge] {
  const bridge = new FakeBridge();
  bridge.answers = { add_practised: {} };
  return [new Logging(bridge, 'p', () => 't', '2026-03-05'), bridge];
}

const kept = (minutes: number, day = '2026-03-05') => ['add_practised', { pupil: 'p', day, minutes, task: 't' }];

describe('minutes of practice', () => {
  it('are noted for today by a number and a press', async () => {
    const [log, bridge] = logging();
    expect(log.ready).toBe(false);
    log.minutes = 10;
    await log.note();
    expect([log.held, log.minutes]).toEqual([{ day: '2026-03-05', minutes: 10 }, null]);
    await vi.advanceTimersByTimeAsync(HELD_MS);
    expect(bridge.calls).toEqual([kept(10)]);
    expect(log.held).toBe(null);
  });

  it('can be taken back, and then were never written', async () => {
    const [log, bridge] = logging();
    log.minutes = 10;
    await log.note();
    log.undo();
    await vi.advanceTimersByTimeAsync(2 * HELD_MS);
    expect(bridge.calls).toEqual([]);
    expect([log.held, log.minutes]).toEqual([null, 10]);
  });

  it('are written at once on leaving, and only once', async () => {
    const [log, bridge] = logging();
    log.minutes = 15;
    log.day = '2026-03-04';
    await log.note();
    await log.now();
    await vi.advanceTimersByTimeAsync(2 * HELD_MS);
    expect(bridge.calls).toEqual([kept(15, '2026-03-04')]);
  });

  it('noted one after the other are all written', async () => {
    const [log, bridge] = logging();
    log.minutes = 5;
    await log.note();
    log.minutes = 20;
    await log.note();
    expect(bridge.calls).toEqual([kept(5)]);
    await log.now();
    expect(bridge.calls).toEqual([kept(5), kept(20)]);
  });

  it('that could not be written wait, before the next', async () => {
    const [log, bridge] = logging();
    bridge.refusals = { add_practised: { code: 'disk-full', message: 'a', whatToDo: 'b' } };
    log.minutes = 5;
    await log.note();
    log.minutes = 20;
    expect(await log.note()).toBe(false);
    expect([log.held?.minutes, log.minutes, log.doing.problem?.code]).toEqual([5, 20, 'disk-full']);
    bridge.refusals = {};
    await log.note();
    await log.now();
    expect(bridge.calls.slice(-2)).toEqual([kept(5), kept(20)]);
  });

  it('are more than none', async () => {
    const [log] = logging();
    log.minutes = 0;
    expect([log.ready, await log.note()]).toEqual([false, false]);
  });

  it('are offered with what the tutor asked for among them', () => {
    expect(offeredMinutes(null)).toEqual([5, 10, 15, 20]);
    expect(offeredMinutes(12)).toEqual([5, 10, 12, 15, 20]);
    expect(offeredMinutes(10)).toEqual([5, 10, 15, 20]);
  });
});
