import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { centimetres, Fitting } from './fitting.svelte';

describe('seat and table for a height', () => {
  it('are asked for in millimetres', async () => {
    const bridge = new FakeBridge();
    // Size mark 3 of EN 1729-1.
    const size = { mark: 3, heightFrom: 1190, heightTo: 1420, seat: 350, table: 590 };
    bridge.answers = { furniture: { sizes: [size] } };
    const fitting = new Fitting(bridge);
    await fitting.ask();
    expect(bridge.calls).toEqual([]);
    fitting.height = 128.5;
    await fitting.ask();
    expect(bridge.calls).toEqual([['furniture', { heightMm: 1285 }]]);
    expect(fitting.sizes).toEqual([size]);
    expect([centimetres(350), centimetres(590), centimetres(1765)]).toEqual(['35', '59', '176.5']);
  });
});
