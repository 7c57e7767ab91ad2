import { describe, expect, it } from 'vitest';
import { Refused } from '../bridge/bridge';
import type { Staged, StagePhoto } from '../bridge/types';
import { GONE, PhotoBridge, stagedOf, waitingOf } from './sample';
import { Taking } from './taking.svelte';

const ABOUT: StagePhoto = { pupil: 'p', task: null, kind: null, writtenOn: null };
const PHOTO = new File(['x'], 'page.jpg');

describe('a photograph', () => {
  it('that is taken again takes the place of the first, once there is a second', async () => {
    const bridge = new PhotoBridge([stagedOf(), stagedOf({ handle: 'h2' })]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    await taking.look(PHOTO, ABOUT);
    expect(taking.staged?.handle).toBe('h2');
    expect(bridge.taken.map(({ insteadOf }) => insteadOf)).toEqual([null, 'h1']);
    // The third can't be looked at.
    await taking.look(PHOTO, ABOUT);
    expect([taking.staged?.handle, taking.problem === null]).toEqual(['h2', false]);
    expect(bridge.calls).toEqual([]);
  });

  it('is kept despite what is amiss only where something is', async () => {
    for (const fit of [true, false]) {
      const bridge = new PhotoBridge([stagedOf({ fit })]);
      const taking = new Taking(bridge);
      await taking.look(PHOTO, ABOUT);
      let page = '';
      await taking.keep((kept) => (page = kept));
      expect(bridge.calls).toEqual([['keep_page', { handle: 'h1', despite: !fit }]]);
      expect([page, taking.active]).toEqual(['new', false]);
    }
  });

  it('that waits is taken up as it was', async () => {
    const bridge = new PhotoBridge([]);
    bridge.answers.look_again = stagedOf({ handle: 'old', fit: false });
    const taking = new Taking(bridge);
    await taking.lookAgain('old');
    expect([taking.staged?.handle, taking.active]).toEqual(['old', true]);
    await taking.keep(() => undefined);
    expect(bridge.calls).toEqual([
      ['look_again', { handle: 'old' }],
      ['keep_page', { handle: 'old', despite: true }],
    ]);
    expect(taking.over).toBe('old');
  });

  it('is gone only once the program has let it go', async () => {
    const bridge = new PhotoBridge([stagedOf()]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    bridge.refusals = { drop_photo: { code: 'disk-failed', message: 'a', whatToDo: 'b' } };
    // Whoever asked for it tells why not.
    await expect(taking.drop('h1')).rejects.toBeInstanceOf(Refused);
    expect([taking.staged?.handle, taking.problem, taking.over]).toEqual(['h1', null, null]);
    bridge.refusals = {};
    await taking.drop('h1');
    expect([taking.active, taking.problem, taking.over]).toEqual([false, null, 'h1']);
  });

  it('that cannot be kept is still there', async () => {
    const bridge = new PhotoBridge([stagedOf()]);
    bridge.refusals = { keep_page: { code: 'disk-full', message: 'a', whatToDo: 'b' } };
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    await taking.keep(() => expect.unreachable());
    expect([taking.staged?.handle, taking.keeping.problem?.code]).toEqual(['h1', 'disk-full']);
  });
});

describe('a photograph of which another screen has disposed', () => {
  const told = (taking: Taking) => [taking.staged?.handle ?? null, taking.problem?.code ?? null];

  async function staged() {
    const bridge = new PhotoBridge([stagedOf(), stagedOf({ handle: 'h2' })]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    return { bridge, taking };
  }

  it('is laid down once the list that had it has it no more, and only then', async () => {
    const { taking } = await staged();
    // The list may not have heard yet of one that was just taken.
    taking.hear([]);
    taking.hear([waitingOf('other')]);
    expect(told(taking)).toEqual(['h1', null]);
    taking.hear([waitingOf('h1'), waitingOf('other')]);
    expect(told(taking)).toEqual(['h1', null]);
    taking.correcting = true;
    taking.hear([waitingOf('other')]);
    expect([...told(taking), taking.correcting]).toEqual([null, 'photo-gone', false]);
  });

  it('is not one that was taken again here', async () => {
    const { taking } = await staged();
    taking.hear([waitingOf('h1')]);
    await taking.look(PHOTO, ABOUT);
    taking.hear([]);
    expect(told(taking)).toEqual(['h2', null]);
  });

  it.each(['keep', 'drop'] as const)('is not one on which this screen is at work: to %s it', async (act) => {
    const { taking } = await staged();
    taking.hear([waitingOf('h1')]);
    const done = act === 'keep' ? taking.keep(() => undefined) : taking.drop('h1');
    // The program tells the list before it answers.
    taking.hear([]);
    expect(told(taking)).toEqual(['h1', null]);
    await done;
    taking.hear([]);
    expect(told(taking)).toEqual([null, null]);
  });

  it('is told as such also where the program says so first', async () => {
    for (const act of [
      (taking: Taking) => taking.keep(() => expect.unreachable()),
      (taking: Taking) => taking.setCorners(null),
      (taking: Taking) => taking.lookAgain('h1'),
    ]) {
      const { bridge, taking } = await staged();
      bridge.refusals = { keep_page: GONE, set_corners: GONE, look_again: GONE };
      await act(taking);
      expect([...told(taking), taking.over]).toEqual([null, 'photo-gone', 'h1']);
      expect(taking.problem?.message).not.toBe(GONE.message);
      // What comes next puts it away.
      await taking.look(PHOTO, ABOUT);
      expect(told(taking)).toEqual(['h2', null]);
    }
  });
});

describe('corners put right', () => {
  const corners: Staged['corners'] = [
    { x: 0, y: 0 },
    { x: 1, y: 0 },
    { x: 1, y: 1 },
    { x: 0, y: 1 },
  ];

  it('make another page of the same photograph, also where no sheet was found', async () => {
    const bridge = new PhotoBridge([stagedOf({ found: false, fit: false, widthPx: 0, heightPx: 0 })]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    const before = taking.preview;
    taking.correcting = true;
    await taking.setCorners(corners);
    expect(bridge.calls).toEqual([['set_corners', { handle: 'h1', corners }]]);
    expect([taking.staged?.found, taking.correcting]).toEqual([true, false]);
    expect(taking.preview).not.toBe(before);
    expect(taking.preview.startsWith('staged:h1')).toBe(true);
  });

  it('do not let the earlier photograph go', async () => {
    const taking = new Taking(new PhotoBridge([stagedOf({ earlierStays: true }), stagedOf()]));
    await taking.look(PHOTO, ABOUT);
    await taking.setCorners(corners);
    expect(taking.staged?.earlierStays).toBe(true);
    await taking.look(PHOTO, ABOUT);
    await taking.setCorners(corners);
    expect(taking.staged?.earlierStays).toBe(false);
  });

  it('that make no sheet leave all as it was, to be moved on', async () => {
    const bridge = new PhotoBridge([stagedOf()]);
    bridge.refusals = { set_corners: { code: 'no-paper', message: 'a', whatToDo: 'b' } };
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    taking.correcting = true;
    await taking.setCorners(corners);
    expect([taking.correcting, taking.staged?.fit, taking.looking.problem?.code]).toEqual([true, true, 'no-paper']);
  });
});
