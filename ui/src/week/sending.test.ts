import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Meeting, Problem } from '../bridge/types';
import { Sending } from './sending.svelte';

const meeting = (problem: Problem | null): Meeting => ({
  device: 'd',
  name: 'Ms Wren',
  sentChanges: 1,
  receivedChanges: 0,
  sentBlobs: 2,
  receivedBlobs: 0,
  refusedChanges: 0,
  problem,
});
const AWAY = { code: 'not-reached', message: 'a', whatToDo: 'b' };

function sending(meetings: Meeting[]) {
  const bridge = new FakeBridge();
  bridge.answers = { exchange: { meetings } };
  const switchOn = vi.fn(async () => undefined);
  return { sending: new Sending(bridge, switchOn), bridge, switchOn };
}

describe('sending a page', () => {
  it('needs no switch where devices meet already', async () => {
    const { sending: one, switchOn } = sending([meeting(null)]);
    await one.send(true);
    expect(switchOn).not.toHaveBeenCalled();
    expect(one.outcome).toBe('reached');
  });

  it('switches meetings on first where they are off', async () => {
    const { sending: one, bridge, switchOn } = sending([meeting(null)]);
    await one.send(false);
    expect(switchOn).toHaveBeenCalledOnce();
    expect(bridge.calls).toEqual([['exchange', { device: null }]]);
  });

  it('says that nobody was reached, which is no error', async () => {
    const { sending: one } = sending([meeting(AWAY), meeting(AWAY)]);
    await one.send(true);
    expect([one.outcome, one.doing.problem]).toEqual(['missed', null]);
  });

  it('has reached somebody if one of several was', async () => {
    const { sending: one } = sending([meeting(AWAY), meeting(null)]);
    await one.send(true);
    expect(one.outcome).toBe('reached');
  });

  it('knows when there is nobody to send to', async () => {
    const { sending: one } = sending([]);
    await one.send(true);
    expect(one.outcome).toBe('nobody');
  });

  it('does not meet anybody where the switch fails', async () => {
    const { sending: one, bridge, switchOn } = sending([meeting(null)]);
    switchOn.mockRejectedValue(new Error('no'));
    await one.send(false);
    expect(bridge.calls).toEqual([]);
    expect([one.outcome, one.doing.problem === null]).toEqual([null, false]);
  });
});
