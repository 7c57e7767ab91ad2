import { expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { KeepingDraft } from './keeping-draft.svelte';
import { sendDraft } from './sendDraft';

async function typed(): Promise<[KeepingDraft, FakeBridge]> {
  const bridge = new FakeBridge();
  bridge.answers = { draft: { text: null }, keep_draft: {} };
  const draft = new KeepingDraft(bridge, 'device-name', 'Jo');
  await draft.loaded;
  draft.text = ' Jo’s telephone ';
  await draft.now();
  return [draft, bridge];
}

const keptBy = (bridge: FakeBridge) => bridge.calls.filter(([verb]) => verb === 'keep_draft').at(-1)?.[1];

it('what was sent is no draft any more', async () => {
  const [draft, bridge] = await typed();
  const sent: string[] = [];
  await sendDraft(draft, async (text) => void sent.push(text));
  expect([sent, draft.text]).toEqual([['Jo’s telephone'], 'Jo']);
  expect(keptBy(bridge)).toEqual({ key: 'device-name', text: '' });
});

it('what could not be sent stands there, and is kept', async () => {
  const [draft, bridge] = await typed();
  await expect(sendDraft(draft, () => Promise.reject(new Error('no')))).rejects.toThrow('no');
  await draft.now();
  expect(draft.text).toBe(' Jo’s telephone ');
  expect(keptBy(bridge)).toEqual({ key: 'device-name', text: ' Jo’s telephone ' });
});
