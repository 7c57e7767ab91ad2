import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Task } from '../bridge/types';
import { KeepingDraft } from '../kit/keeping-draft.svelte';
import { profileOf, taskOf } from './sample';
import { Setting } from './setting.svelte';

const PUPIL = '1'.padStart(32, '0');

async function setting(last: Task | null = null, draft: string | null = null): Promise<[Setting, FakeBridge]> {
  const bridge = new FakeBridge();
  bridge.answers = { draft: { text: draft }, keep_draft: {}, set_task: { task: '2'.padStart(32, '0') } };
  const text = new KeepingDraft(bridge, `task/${PUPIL}`);
  await text.loaded;
  return [new Setting(bridge, { pupil: PUPIL, profile: profileOf('Ada'), last, focus: null }, text), bridge];
}

const sent = (bridge: FakeBridge) => bridge.calls.find(([verb]) => verb === 'set_task')?.[1];

describe('setting a task', () => {
  it('starts from the week before and from the pupil’s usual paper', async () => {
    const last = taskOf({ kind: 'dictated', minutes: 15, focus: 'gaps', paper: 'a5', ruling: { kind: 'plain' } });
    const [one, bridge] = await setting(last);
    one.take(one.lastText ?? '');
    expect(await one.send()).toBe(true);
    expect(sent(bridge)).toEqual({
      pupil: PUPIL,
      kind: 'dictated',
      text: ['The hens', 'are out.'],
      paper: 'a4',
      ruling: { kind: 'lines', pitch: 8 },
      minutes: 15,
      focus: 'gaps',
      setOn: null,
    });
  });

  it('offers no text of before where the child wrote its own words', async () => {
    const [one] = await setting(taskOf({ kind: 'ownWords', text: null }));
    expect([one.lastText, one.own]).toEqual([null, true]);
  });

  it('goes on with what was half typed, and has it back after another text was tried', async () => {
    const [one] = await setting(null, 'We fed');
    one.take('Ready');
    expect([one.text.text, one.before]).toEqual(['Ready', 'We fed']);
    one.back();
    expect([one.text.text, one.before]).toEqual(['We fed', null]);
  });

  it('sends no text with own words, and drops the draft', async () => {
    const [one, bridge] = await setting(null, 'We fed');
    one.kind = 'ownWords';
    await one.send();
    expect(sent(bridge)).toMatchObject({ kind: 'ownWords', text: null });
    expect(bridge.calls.at(-1)).toEqual(['keep_draft', { key: `task/${PUPIL}`, text: '' }]);
  });

  it('that is refused loses nothing', async () => {
    const [one, bridge] = await setting(null, 'We fed');
    bridge.refusals = { set_task: { code: 'a', message: 'b', whatToDo: 'c' } };
    expect(await one.send()).toBe(false);
    expect([one.text.text, one.doing.problem?.code]).toEqual(['We fed', 'a']);
  });
});
