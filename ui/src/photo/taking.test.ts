import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Staged, StagePhoto } from '../bridge/types';
import { Taking } from './taking.svelte';

const ABOUT: StagePhoto = { pupil: 'p', task: null, kind: null, writtenOn: null };
const PHOTO = new File(['x'], 'page.jpg');
const staged = (more: Partial<Staged> = {}): Staged => ({
  handle: 'h1',
  fit: true,
  checks: [],
  widthPx: 100,
  heightPx: 140,
  found: true,
  corners: null,
  photoWidthPx: 1200,
  photoHeightPx: 1600,
  ...more,
});

/** Photographs that are looked at one after the other. */
class PhotoBridge extends FakeBridge {
  constructor(readonly answersTo: Staged[]) {
    super();
    this.answers = { drop_photo: {}, keep_page: { page: 'new' }, set_corners: staged({ fit: true }) };
  }
  override async stagePhoto(): Promise<Staged> {
    const next = this.answersTo.shift();
    if (!next) throw new Error('no further photograph');
    return next;
  }
}

describe('a photograph', () => {
  it('that is taken again takes the place of the first, which is dropped', async () => {
    const bridge = new PhotoBridge([staged(), staged({ handle: 'h2' })]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    await taking.look(PHOTO, ABOUT);
    expect(taking.staged?.handle).toBe('h2');
    expect(bridge.calls).toEqual([['drop_photo', { handle: 'h1' }]]);
  });

  it('is kept despite what is amiss only where something is', async () => {
    for (const fit of [true, false]) {
      const bridge = new PhotoBridge([staged({ fit })]);
      const taking = new Taking(bridge);
      await taking.look(PHOTO, ABOUT);
      let page = '';
      await taking.keep((kept) => (page = kept));
      expect(bridge.calls).toEqual([['keep_page', { handle: 'h1', despite: !fit }]]);
      expect([page, taking.active]).toEqual(['new', false]);
    }
  });

  it('is dropped on leaving, unless it is being kept', async () => {
    const bridge = new PhotoBridge([staged(), staged({ handle: 'h2' })]);
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    const kept = taking.keep(() => undefined);
    taking.leave();
    await kept;
    expect(bridge.calls.map(([verb]) => verb)).toEqual(['keep_page']);
    await taking.look(PHOTO, ABOUT);
    taking.leave();
    expect(bridge.calls.at(-1)).toEqual(['drop_photo', { handle: 'h2' }]);
  });

  it('that cannot be kept is still there', async () => {
    const bridge = new PhotoBridge([staged()]);
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
    const bridge = new PhotoBridge([staged({ found: false, fit: false, widthPx: 0, heightPx: 0 })]);
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
    const bridge = new PhotoBridge([staged()]);
    bridge.refusals = { set_corners: { code: 'no-paper', message: 'a', whatToDo: 'b' } };
    const taking = new Taking(bridge);
    await taking.look(PHOTO, ABOUT);
    taking.correcting = true;
    await taking.setCorners(corners);
    expect([taking.correcting, taking.staged?.fit, taking.looking.problem?.code]).toEqual([true, true, 'no-paper']);
  });
});
