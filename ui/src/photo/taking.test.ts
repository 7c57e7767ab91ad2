import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Staged, StagePhoto, TakenPhoto } from '../bridge/types';
import { stagedOf } from './sample';
import { Taking } from './taking.svelte';

const ABOUT: StagePhoto = { pupil: 'p', task: null, kind: null, writtenOn: null };
const PHOTO = new File(['x'], 'page.jpg');

/** Photographs that are looked at one after the other. */
class PhotoBridge extends FakeBridge {
  constructor(readonly answersTo: Staged[]) {
    super();
    this.answers = { drop_photo: {}, keep_page: { page: 'new' }, set_corners: stagedOf({ fit: true }) };
  }
  readonly taken: TakenPhoto[] = [];
  override async stagePhoto(_: Blob, taken: TakenPhoto): Promise<Staged> {
    this.taken.push(taken);
    const next = this.answersTo.shift();
    if (!next) throw new Error('no further photograph');
    return next;
  }
}

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
    await taking.drop();
    expect([taking.staged?.handle, taking.problem?.code, taking.over]).toEqual(['h1', 'disk-failed', null]);
    bridge.refusals = {};
    await taking.drop();
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
