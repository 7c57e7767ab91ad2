import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { KeepingDraft } from '../kit/keeping-draft.svelte';
import { profileFrom, Profiling } from './profiling.svelte';
import { profileOf } from './sample';

async function profiling(kept: string | null): Promise<[Profiling, FakeBridge]> {
  const bridge = new FakeBridge();
  bridge.answers = { draft: { text: kept }, keep_draft: {} };
  const draft = new KeepingDraft(bridge, 'profile/new');
  const one = new Profiling(profileOf('Ada'), draft);
  await draft.loaded;
  await Promise.resolve();
  return [one, bridge];
}

const kept = (bridge: FakeBridge) => bridge.calls.filter(([verb]) => verb === 'keep_draft').map(([, input]) => (input as { text: string }).text);

describe('a profile that is being changed', () => {
  it('is kept as a draft once it differs, and not before', async () => {
    const [one, bridge] = await profiling(null);
    one.keep();
    await one.draft.now();
    expect(kept(bridge)).toEqual([]);
    one.profile.year = 5;
    one.keep();
    await one.draft.now();
    expect(JSON.parse(kept(bridge)[0] ?? '')).toEqual({ ...profileOf('Ada'), year: 5 });
  });

  it('goes on where it was left, and can begin afresh', async () => {
    const half = { ...profileOf('Ad'), ruling: { kind: 'fourLine', pitch: 15, inner: 5 } };
    const [one, bridge] = await profiling(JSON.stringify(half));
    expect([one.ready, one.version]).toEqual([half, 1]);
    await one.afresh();
    expect([one.ready, one.version, kept(bridge).at(-1)]).toEqual([profileOf('Ada'), 2, '']);
  });

  it('is sent with a name without spaces about it, and leaves no draft', async () => {
    const [one, bridge] = await profiling(null);
    one.profile.name = '  Bea ';
    one.keep();
    await one.draft.now();
    const sent: string[] = [];
    expect(await one.send(async ({ name }) => void sent.push(name))).toBe(true);
    one.keep();
    await one.draft.now();
    expect([sent, kept(bridge).at(-1)]).toEqual([['Bea'], '']);
  });

  it('that is refused goes on being kept', async () => {
    const [one, bridge] = await profiling(null);
    expect(await one.send(() => Promise.reject(new Error('full')))).toBe(false);
    one.profile.year = 6;
    one.keep();
    await one.draft.now();
    expect(kept(bridge).at(-1)).toContain('"year":6');
  });

  it.each(['', 'no JSON', '{}', 'null', '[]', JSON.stringify({ ...profileOf('Ada'), year: 'three' }), JSON.stringify({ ...profileOf('Ada'), model: null })])(
    'takes no draft of another shape: %s',
    async (text) => {
      expect(profileFrom(text, profileOf('Ada'))).toBe(null);
      if (text === '') return;
      const [one] = await profiling(text);
      expect(one.ready).toEqual(profileOf('Ada'));
    },
  );
});
