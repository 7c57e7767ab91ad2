import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Reminding } from './reminding.svelte';

function reminding(at: ConstructorParameters<typeof Reminding>[1] = null): [Reminding, FakeBridge] {
  const bridge = new FakeBridge();
  bridge.answers = { set_reminder: {} };
  return [new Reminding(bridge, at), bridge];
}

describe('a reminder of the weekly page', () => {
  it('is none until somebody chooses a day', async () => {
    const [reminder, bridge] = reminding();
    await reminder.set();
    expect(bridge.calls).toEqual([['set_reminder', { at: null }]]);
  });

  it('shows the time that is set, and sets another', async () => {
    const [reminder, bridge] = reminding({ weekday: 'sunday', minute: 9 * 60 + 5 });
    expect([reminder.weekday, reminder.time]).toEqual(['sunday', '09:05']);
    reminder.weekday = 'wednesday';
    reminder.time = '23:59';
    expect(await reminder.set()).toBe(true);
    expect(bridge.calls).toEqual([['set_reminder', { at: { weekday: 'wednesday', minute: 1439 } }]]);
  });

  it('is not set where the field holds no time', async () => {
    const [reminder, bridge] = reminding();
    reminder.weekday = 'monday';
    reminder.time = '';
    expect(await reminder.set()).toBe(false);
    expect(bridge.calls).toEqual([]);
  });
});
