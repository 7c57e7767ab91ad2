import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Amendment } from '../bridge/types';
import { Acts } from '../desk/acts';
import { History } from '../desk/history.svelte';
import { boxAt, letterOf } from '../desk/sample';
import { Amending } from './amending.svelte';
import { faultText, pickedOf, putRightText, stopText } from './sentences';

const where = { pupil: 'p', page: 'q' };
const at = boxAt(10, 20);

function amending() {
  const bridge = new FakeBridge();
  bridge.answers.amend = { amendment: 'm' };
  bridge.answers.take_back = {};
  return { bridge, amending: new Amending(new Acts(bridge, where, new History())) };
}

describe('putting right', () => {
  it('says what is so of a page, and takes it back by its id', async () => {
    const { bridge, amending: one } = amending();
    const what: Amendment = { about: 'fault', at, letter: 'a', fault: 'open', there: false };
    expect(await one.amend(what)).toBe(true);
    expect(await one.takeBack({ id: 'm', page: 'q', what, madeAt: 0, by: 'd' })).toBe(true);
    expect(bridge.calls).toEqual([
      ['amend', { ...where, what }],
      ['take_back', { ...where, amendment: 'm' }],
    ]);
  });

  it('places a letter by the box that was drawn, and then shows it there', async () => {
    const { bridge, amending: one } = amending();
    one.place({ of: 'letter', at, char: 'e' }, at);
    one.drawing.press({ x: 50, y: 60 });
    one.drawing.drag({ x: 54, y: 70 });
    one.drawing.release({ x: 54, y: 70 });
    expect(await one.putPlace()).toBe(true);
    const bounds = boxAt(50, 60);
    expect(bridge.calls).toEqual([['amend', { ...where, what: { about: 'letter', at, letter: 'e', bounds } }]]);
    expect(one.picked).toEqual({ at: bounds, char: 'e', drawn: true });
    expect([one.placing, one.drawing.tool]).toEqual([null, null]);
  });

  it('says where a correction was missed', async () => {
    const { bridge, amending: one } = amending();
    one.place({ of: 'correction', kind: 'writtenOver' }, at);
    await one.putPlace();
    expect(bridge.calls).toEqual([['amend', { ...where, what: { about: 'correction', at, kind: 'writtenOver' } }]]);
  });

  it.each(['notWriting', 'line'] as const)('says of a place that it is: %s', async (of) => {
    const { bridge, amending: one } = amending();
    one.place({ of }, at);
    await one.putPlace();
    expect(bridge.calls).toEqual([['amend', { ...where, what: { about: of, at } }]]);
    expect(one.picked).toEqual({ at, char: null, drawn: true });
  });

  it('is over when the box is laid down on the page', () => {
    const { amending: one } = amending();
    one.place({ of: 'letter', at, char: 'e' }, at);
    expect(one.placing?.of).toBe('letter');
    one.drawing.lay();
    expect(one.placing).toBeNull();
  });

  it('keeps the box when it could not be said', async () => {
    const { bridge, amending: one } = amending();
    bridge.refusals.amend = { code: 'disk-full', message: 'No room.', whatToDo: 'Make room.' };
    one.place({ of: 'letter', at, char: 'e' }, at);
    expect(await one.putPlace()).toBe(false);
    expect([one.placing?.of, one.drawing.shape, one.doing.problem?.code]).toEqual([
      'letter',
      { shape: 'box', bounds: at },
      'disk-full',
    ]);
  });
});

describe('what was put right, in words', () => {
  const all: [Amendment, string][] = [
    [{ about: 'letter', at, letter: 'e', bounds: at }, 'Letter e: it is here'],
    [{ about: 'letter', at, letter: 'e', bounds: null }, 'Letter e: no ink is this letter'],
    [{ about: 'fault', at, letter: 'a', fault: 'open', there: true }, 'Letter a: left open, put in'],
    [{ about: 'fault', at, letter: 'a', fault: 'open', there: false }, 'Letter a: left open, taken out'],
    [{ about: 'reads', at, letter: 'n', asMeant: true }, 'Letter n: reads as meant'],
    [{ about: 'reads', at, letter: 'n', asMeant: false }, 'Letter n: does not read as meant'],
    [{ about: 'join', at, letter: 'o', verdict: 'wrongHeight' }, 'Letter o, its join: joined at another height'],
    [{ about: 'correction', at, kind: 'bracketed' }, 'Correction here: in brackets'],
    [{ about: 'correction', at, kind: null }, 'No correction here'],
    [{ about: 'notWriting', at }, 'Not the pupil’s writing: left out'],
    [{ about: 'line', at }, 'A line of writing is here'],
  ];

  it.each(all)('%j', (what, sentence) => {
    expect(putRightText(what)).toBe(sentence);
  });

  it('is shown where the letter is now', () => {
    const moved = pickedOf({ about: 'letter', at, letter: 'e', bounds: boxAt(1, 2) });
    expect(moved).toEqual({ at: boxAt(1, 2), char: 'e', drawn: true });
    expect(pickedOf({ about: 'letter', at, letter: 'e', bounds: null })).toEqual({ at, char: 'e', drawn: false });
    expect(pickedOf({ about: 'reads', at, letter: 'n', asMeant: true })).toEqual({ at, char: 'n', drawn: false });
    expect(pickedOf({ about: 'correction', at, kind: null })).toEqual({ at, char: null });
  });

  it('gives a fault with its figure, as a share or in x-heights', () => {
    expect(faultText('open', 0.124)).toBe('left open (at the lightest place its ring is 12 % as dark as its strokes)');
    expect(faultText('notTall', 1.084)).toBe('not above the short letters (height: 1.08 x-heights)');
  });

  it('gives no figure with what a person saw, but a nought that was measured', () => {
    expect(faultText('apart', null)).toBe('in two parts');
    expect(faultText('noBar', 0)).toBe('no bar across (ink across: 0.00 x-heights)');
  });

  it('says of a letter without ink that it has none, and nothing of its form', () => {
    const letter = letterOf('a', { confidence: 0, byHand: true, faults: [{ kind: 'open', figure: 0.1 }] });
    const stop = { of: 'letter', at, char: 'a', nth: 0, letter, join: null, next: null } as const;
    expect(stopText(stop)).toBe('Letter a, line 1: no ink is this letter');
    expect(stopText({ ...stop, letter: { ...letter, byHand: false } })).toBe('Letter a, line 1: left open');
  });
});
