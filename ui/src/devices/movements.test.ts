import { expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Movements } from './movements.svelte';

const moving = (device: string, received: number, toReceive: number | null, sent: number) =>
  ({ event: 'moving', device, received, toReceive, sent }) as const;

it('what moves is told device by device, until the two have met', () => {
  const bridge = new FakeBridge();
  const movements = new Movements(bridge);
  bridge.events.tell(moving('a', 0, null, 100));
  bridge.events.tell(moving('b', 10, 20, 0));
  bridge.events.tell(moving('a', 500, 4000, 100));
  expect(Object.fromEntries(movements.byDevice)).toEqual({
    a: { received: 500, toReceive: 4000, sent: 100 },
    b: { received: 10, toReceive: 20, sent: 0 },
  });
  bridge.events.tell({ event: 'met', device: 'a', ok: false });
  expect([...movements.byDevice.keys()]).toEqual(['b']);
});

it('is deaf once it is closed', () => {
  const bridge = new FakeBridge();
  const movements = new Movements(bridge);
  movements.close();
  bridge.events.tell(moving('a', 0, null, 100));
  expect(movements.byDevice.size).toBe(0);
});
