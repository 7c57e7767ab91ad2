import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Reply } from '../bridge/types';
import { draftKey, repliesTo, Replying, strayReplies } from './replying.svelte';

const reply = (id: string, page: string, mark: string | null): Reply => ({ id, page, mark, words: id, madeAt: 0, by: 'd' });
const ALL = [reply('1', 'p', null), reply('2', 'p', 'm'), reply('3', 'q', 'm'), reply('4', 'p', 'gone'), reply('5', 'p', 'm')];
const ids = (replies: Reply[]) => replies.map(({ id }) => id).join('');

describe('replies', () => {
  it('stand with what they answer, the oldest first', () => {
    expect(ids(repliesTo(ALL, 'p', null))).toBe('1');
    expect(ids(repliesTo(ALL, 'p', 'm'))).toBe('25');
    expect(ids(repliesTo(ALL, 'q', null))).toBe('');
  });

  it('to a mark that was taken off are still shown', () => {
    expect(ids(strayReplies(ALL, 'p', ['m']))).toBe('4');
    expect(ids(strayReplies(ALL, 'q', ['m']))).toBe('');
  });

  it('are sent without blanks about them, and not at all when there is nothing else', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { add_reply: {} };
    const replying = new Replying(bridge, 'child', 'p', 'm');
    expect(await replying.send(' \n ')).toBe(false);
    expect(await replying.send(' We tried it. ')).toBe(true);
    expect(bridge.calls).toEqual([['add_reply', { pupil: 'child', page: 'p', mark: 'm', words: 'We tried it.' }]]);
  });

  it('that cannot be sent say why', async () => {
    const bridge = new FakeBridge();
    const long = { code: 'text-too-long', message: 'a', whatToDo: 'b' };
    bridge.refusals = { add_reply: long };
    const replying = new Replying(bridge, 'child', 'p', null);
    expect(await replying.send('x')).toBe(false);
    expect(replying.doing.problem).toEqual(long);
  });

  it('have a draft each', () => {
    const keys = [draftKey('p', null), draftKey('p', 'm'), draftKey('p', 'n'), draftKey('q', null)];
    expect(new Set(keys).size).toBe(4);
  });
});
