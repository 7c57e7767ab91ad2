import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Refused } from '../bridge/bridge';
import type { PhoneBridge } from './bridge';
import { Panel } from './panel.svelte';
import type { Shown, Standing } from './types';

const HOME = { address: '192.168.1.20', network: 'wlan0' };
const CABLE = { address: '10.0.0.7', network: 'eth0' };
const SHOWN: Shown = {
  pupil: 'a',
  url: 'http://192.168.1.20:4711/#k',
  qrSvg: '<svg/>',
  expiresAt: 0,
  stage: 'waiting',
  ended: null,
  pages: 0,
  turnedAway: 0,
};

function scene(first: Standing) {
  const held = { standing: first };
  const bridge = {
    standing: vi.fn(async () => held.standing),
    open: vi.fn(async () => (held.standing = { ...held.standing, open: SHOWN })),
    close: vi.fn(async () => (held.standing = { ...held.standing, open: null })),
  } satisfies PhoneBridge;
  return { held, bridge, panel: new Panel(bridge, () => 'a') };
}

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

describe('the panel', () => {
  it('takes the first address until another is chosen', async () => {
    const { panel, bridge } = scene({ addresses: [HOME, CABLE], open: null });
    await panel.ask();
    expect(panel.address).toBe(HOME.address);
    panel.address = CABLE.address;
    await panel.open();
    expect(bridge.open).toHaveBeenCalledWith({ pupil: 'a', address: CABLE.address });
    expect(panel.address).toBe(CABLE.address);
  });

  it('takes another address when the chosen one is gone', async () => {
    const { panel, held } = scene({ addresses: [HOME], open: null });
    await panel.ask();
    held.standing = { addresses: [CABLE], open: null };
    await panel.ask();
    expect(panel.address).toBe(CABLE.address);
  });

  it('follows an open page, and stops when it ends', async () => {
    const { panel, held, bridge } = scene({ addresses: [HOME], open: null });
    await panel.ask();
    await vi.advanceTimersByTimeAsync(10_000);
    expect(bridge.standing).toHaveBeenCalledTimes(1);
    await panel.open();
    held.standing = { addresses: [HOME], open: { ...SHOWN, stage: 'inUse', pages: 1 } };
    await vi.advanceTimersByTimeAsync(2000);
    expect(panel.shown?.pages).toBe(1);
    held.standing = { addresses: [HOME], open: { ...SHOWN, stage: 'ended', ended: 'expired', pages: 1 } };
    await vi.advanceTimersByTimeAsync(2000);
    const calls = bridge.standing.mock.calls.length;
    await vi.advanceTimersByTimeAsync(10_000);
    expect([panel.shown?.ended, bridge.standing.mock.calls.length]).toEqual(['expired', calls]);
  });

  it('stops following when a person leaves, and the page stays open', async () => {
    const { panel, bridge } = scene({ addresses: [HOME], open: SHOWN });
    await panel.ask();
    panel.leave();
    await vi.advanceTimersByTimeAsync(10_000);
    expect(bridge.standing).toHaveBeenCalledTimes(1);
    expect(bridge.close).not.toHaveBeenCalled();
  });

  it('shows no code of another pupil', async () => {
    const { panel } = scene({ addresses: [HOME], open: { ...SHOWN, pupil: 'b' } });
    await panel.ask();
    expect([panel.shown, panel.elsewhere]).toEqual([null, true]);
    panel.leave();
  });

  it('says what went wrong', async () => {
    const { panel, bridge } = scene({ addresses: [HOME], open: null });
    const told = { code: 'address-unusable', message: 'a', whatToDo: 'b' };
    bridge.open.mockRejectedValueOnce(new Refused(told));
    await panel.open();
    expect(panel.doing.problem).toEqual(told);
  });
});
