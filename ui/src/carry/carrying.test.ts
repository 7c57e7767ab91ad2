import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { CarryOpened } from '../bridge/types';
import { Carrying } from './carrying.svelte';
import { openingText } from './sentences';

const PUPIL = 'p';
const brought: CarryOpened = {
  from: 'd', pupil: PUPIL, part: 1, parts: 1, newChanges: 2, refusedChanges: 0, newBlobs: 1, waits: false,
};
const file = (name: string, bytes: number[]) => new File([new Uint8Array(bytes)], name);

describe('files that are made', () => {
  it('hold the bytes that the program gave, under its names', async () => {
    const bridge = new FakeBridge();
    bridge.answers.make_carry = {
      files: [
        { name: '2026-03-04 1 of 2.pothook-post', base64: 'Zm9vYg==' },
        { name: '2026-03-04 2 of 2.pothook-post', base64: '/wA=' },
      ],
    };
    const carrying = new Carrying(bridge);
    await carrying.make(PUPIL);
    expect(bridge.calls).toEqual([['make_carry', { pupil: PUPIL, to: null, partBytes: null }]]);
    const made = carrying.made ?? [];
    expect(made.map((one) => one.name)).toEqual(['2026-03-04 1 of 2.pothook-post', '2026-03-04 2 of 2.pothook-post']);
    const bytes = await Promise.all(made.map(async (one) => [...new Uint8Array(await one.arrayBuffer())]));
    expect(bytes).toEqual([[0x66, 0x6f, 0x6f, 0x62], [0xff, 0x00]]);
  });

  it('are gone once newer ones are asked for, even where these cannot be made', async () => {
    const bridge = new FakeBridge();
    bridge.answers.make_carry = { files: [{ name: 'a', base64: '' }] };
    const carrying = new Carrying(bridge);
    await carrying.make(PUPIL);
    bridge.refusals.make_carry = { code: 'no-such-device', message: 'a', whatToDo: 'b' };
    await carrying.make(PUPIL);
    expect([carrying.made, carrying.making.problem?.code]).toEqual([null, 'no-such-device']);
  });
});

describe('files that came', () => {
  it('are handed over whole, one after another', async () => {
    const bridge = new FakeBridge();
    bridge.answers.open_carry = brought;
    const carrying = new Carrying(bridge);
    await carrying.open([file('one', [0xff, 0x00]), file('two', [])]);
    expect(bridge.calls).toEqual([
      ['open_carry', { base64: '/wA=' }],
      ['open_carry', { base64: '' }],
    ]);
    expect(carrying.openings).toEqual([{ file: 'one', brought }, { file: 'two', brought }]);
  });

  it('that are not taken hold up none of the others', async () => {
    const bridge = new FakeBridge();
    bridge.refusals.open_carry = { code: 'carry-damaged', message: 'It is cut.', whatToDo: 'Send it again.' };
    const carrying = new Carrying(bridge);
    await carrying.open([file('one', [1]), file('two', [2])]);
    expect(carrying.openings.map((one) => openingText(one, []))).toEqual([
      ['one: It is cut. Send it again.'],
      ['two: It is cut. Send it again.'],
    ]);
    expect([carrying.opening.busy, carrying.opening.problem]).toEqual([false, null]);
  });
});

describe('what a file brought', () => {
  const said = (change: Partial<CarryOpened>) =>
    openingText({ file: 'f', brought: { ...brought, ...change } }, [])
      .map((sentence) => sentence.replace('Name not here yet', 'Ada'));

  it('is told in the counts that the program gives', () => {
    expect(said({})).toEqual(['About Ada: 2 new changes, 1 new picture or reading.']);
    expect(said({ newChanges: 0, newBlobs: 0 })).toEqual(['About Ada: nothing in it was new here.']);
  });

  it('comes with which of several it was, what is missing, and what was refused', () => {
    expect(said({ part: 2, parts: 3, waits: true, refusedChanges: 1 }).slice(1)).toEqual([
      'This was file 2 of 3.',
      'Some of it rests on what has not come yet: open the other files too, or let the devices meet.',
      '1 change was refused.',
    ]);
  });
});
