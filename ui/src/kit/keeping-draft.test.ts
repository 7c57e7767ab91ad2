import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { KeepingDraft } from './keeping-draft.svelte';
import { KeepingText, QUIET_MS } from './keeping-text.svelte';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function bridgeWith(text: string | null): FakeBridge {
  const bridge = new FakeBridge();
  bridge.answers = { draft: { text }, keep_draft: {} };
  return bridge;
}

const keptBy = (bridge: FakeBridge) =>
  bridge.calls.flatMap(([verb, input]) => (verb === 'keep_draft' ? [(input as { text: string }).text] : []));

async function opened(text: string | null, start?: string): Promise<[KeepingDraft, FakeBridge]> {
  const bridge = bridgeWith(text);
  const draft = new KeepingDraft(bridge, 'task/1', start);
  await draft.loaded;
  return [draft, bridge];
}

describe('half-typed words', () => {
  it('are there again, and said to be', async () => {
    const [draft] = await opened('We fed the');
    expect([draft.text, draft.restored]).toEqual(['We fed the', true]);
    draft.text = 'We fed the hens';
    expect(draft.restored).toBe(false);
  });

  it('are kept once nothing was typed for a while, not at every key', async () => {
    const [draft, bridge] = await opened(null);
    for (const text of ['W', 'We', 'We f']) {
      draft.text = text;
      await vi.advanceTimersByTimeAsync(QUIET_MS - 1);
    }
    expect(keptBy(bridge)).toEqual([]);
    expect(draft.state).toBe('typing');
    await vi.advanceTimersByTimeAsync(1);
    expect(keptBy(bridge)).toEqual(['We f']);
    expect(draft.state).toBe('kept');
  });

  it('are kept at once on leaving, and not a second time', async () => {
    const [draft, bridge] = await opened(null);
    draft.text = 'We';
    await draft.now();
    await vi.advanceTimersByTimeAsync(10 * QUIET_MS);
    expect(keptBy(bridge)).toEqual(['We']);
  });

  it('are nothing to keep when nothing was typed', async () => {
    const [draft, bridge] = await opened(null);
    await draft.now();
    expect(keptBy(bridge)).toEqual([]);
  });

  it('go once they are sent', async () => {
    const [draft, bridge] = await opened('We fed the');
    await draft.drop();
    expect([draft.text, draft.restored, keptBy(bridge)]).toEqual(['', false, ['']]);
  });

  it('go back to the text to start from, which is no draft', async () => {
    const [draft, bridge] = await opened('half', 'start');
    await draft.drop();
    expect([draft.text, keptBy(bridge)]).toEqual(['start', ['']]);
  });

  it('that are quicker than the answer stay, and replace what was kept', async () => {
    const bridge = bridgeWith('old');
    const draft = new KeepingDraft(bridge, 'task/1');
    draft.text = 'new';
    await draft.loaded;
    expect(draft.text).toBe('new');
    await draft.drop();
    expect(keptBy(bridge).at(-1)).toBe('');
  });

  it('that could not be kept are said to be, and tried again with the next', async () => {
    const [draft, bridge] = await opened(null);
    const full = { code: 'disk-full', message: 'a', whatToDo: 'b' };
    bridge.refusals = { keep_draft: full };
    draft.text = 'We';
    await draft.now();
    expect([draft.state, draft.problem]).toEqual(['failed', full]);
    bridge.refusals = {};
    draft.text = 'We f';
    await draft.now();
    expect([draft.state, draft.problem]).toEqual(['kept', null]);
  });
});

describe('a text kept while it is typed', () => {
  it('is never kept twice at once, and the last one wins', async () => {
    const begun: string[] = [];
    const ends: (() => void)[] = [];
    const text = new KeepingText('', (one) => {
      begun.push(one);
      return new Promise((end) => ends.push(end));
    });
    text.text = 'a';
    const first = text.now();
    text.text = 'ab';
    const second = text.now();
    expect(begun).toEqual(['a']);
    ends[0]?.();
    await vi.advanceTimersByTimeAsync(0);
    expect(begun).toEqual(['a', 'ab']);
    expect(text.state).toBe('keeping');
    ends[1]?.();
    await Promise.all([first, second]);
    expect(text.state).toBe('kept');
  });
});
