import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Pairing } from './pairing.svelte';

const settled = () => new Promise((done) => setTimeout(done, 0));

async function begun(): Promise<[FakeBridge, Pairing]> {
  const bridge = new FakeBridge();
  const idle = { stage: 'idle' } as const;
  Object.assign(bridge.answers, { pairing: idle, offer_pairing: idle, join_pairing: idle, cancel_pairing: idle });
  const pairing = new Pairing(bridge);
  await settled();
  return [bridge, pairing];
}

const told = (bridge: FakeBridge) => bridge.calls.filter(([verb]) => verb !== 'pairing');

describe('a pairing', () => {
  it('is offered for what was chosen, and then asked for', async () => {
    const [bridge, pairing] = await begun();
    bridge.answers.pairing = { stage: 'compare', words: ['a', 'b'] };
    pairing.offer({ for: 'ownDevice' });
    await settled();
    expect(told(bridge)).toEqual([['offer_pairing', { for: 'ownDevice' }]]);
    expect(pairing.state).toEqual({ stage: 'compare', words: ['a', 'b'] });
  });

  it('takes a key on paper along only where one was typed', async () => {
    const [bridge, pairing] = await begun();
    pairing.join(' code ');
    await settled();
    pairing.join('code', '  ');
    await settled();
    pairing.join('code', ' key\n');
    await settled();
    expect(told(bridge).map(([, input]) => input)).toEqual([
      { code: 'code', paperKey: null },
      { code: 'code', paperKey: null },
      { code: 'code', paperKey: 'key' },
    ]);
  });

  it('that was refused says why and stays where it was', async () => {
    const [bridge, pairing] = await begun();
    bridge.refusals.join_pairing = { code: 'code-slip', message: 'a', whatToDo: 'b' };
    pairing.join('cod');
    await settled();
    expect([pairing.state.stage, pairing.doing.problem?.code]).toEqual(['idle', 'code-slip']);
  });
});
