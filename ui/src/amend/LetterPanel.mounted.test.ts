import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { JoinVerdict, Letter, Reading } from '../bridge/types';
import { Acts } from '../desk/acts';
import { History } from '../desk/history.svelte';
import { boxAt, joinOf, letterOf, sampleReading } from '../desk/sample';
import { show, textOf } from '../testing/mounted';
import { PAGE, pageViewOf, PUPIL } from '../testing/samples';
import { Amending } from './amending.svelte';
import LetterPanel from './LetterPanel.svelte';
import { type Stop, stopsOf } from './stops';

const where = { pupil: PUPIL, page: PAGE };

interface Told {
  letter?: Partial<Letter>;
  verdict?: JoinVerdict;
  word?: string | null;
}

async function panel({ letter = {}, verdict, word = 'on' }: Told = {}) {
  const reading: Reading = {
    ...sampleReading,
    words: [{ line: 0, bounds: boxAt(10, 20, 50), text: word, struck: false }],
    letters: [letterOf('o', letter), letterOf('n', { bounds: boxAt(16, 20) })],
    joins: verdict ? [joinOf(0, verdict)] : [],
  };
  const bridge = new FakeBridge();
  bridge.answers.amend = { amendment: 'a'.repeat(32) };
  const stop = stopsOf(reading, 'form')[0] as Extract<Stop, { of: 'letter' }>;
  const amending = new Amending(new Acts(bridge, where, new History()));
  const place = vi.fn();
  const given = { view: pageViewOf({ reading }), reading, stop, amending, place };
  const screen = await show(LetterPanel, given, { bridge, data: ['o', 'n'] });
  return { screen, place, said: () => bridge.calls.filter(([verb]) => verb === 'amend').map(([, input]) => input) };
}
const about = { at: boxAt(10, 20), letter: 'o' };

describe('one letter', () => {
  it('is headed by its word and line', async () => {
    expect((await panel()).screen.texts('heading')).toEqual(['o in “on”, line 1']);
    expect((await panel({ word: null })).screen.texts('heading')).toEqual(['o, line 1']);
  });

  it('tells how sure the program is, and that nothing was found', async () => {
    const { screen } = await panel({ letter: { confidence: 0.93 } });
    expect(screen.texts('listitem')).toEqual([
      'The program is 93 % sure that this is the letter.',
      'Nothing amiss was found in it.',
    ]);
  });

  it('finds nothing amiss, and nothing right, in a letter that it is not sure of', async () => {
    const { screen } = await panel({ letter: { confidence: 0.1 } });
    expect(screen.texts('listitem')).toEqual([
      'The program is not sure that this is the letter (10 %); it is left out of the figures.',
    ]);
  });

  it('tells each fault with what it rests on, and takes it off when a person says so', async () => {
    const { screen, said } = await panel({ letter: { faults: [{ kind: 'apart', figure: 0.3 }] } });
    expect(screen.texts('listitem')[1]).toContain('in two parts (white between: 0.30 x-heights)');
    await screen.press('This is not so: in two parts');
    expect(said()).toEqual([{ ...where, what: { about: 'fault', ...about, fault: 'apart', there: false } }]);
  });

  it('offers no fault twice', async () => {
    const { screen } = await panel({ letter: { faults: [{ kind: 'apart', figure: null }] } });
    const options = screen.texts('option', screen.one('combobox', 'Something else is amiss'));
    expect(options).toContain('turned round');
    expect(options).not.toContain('in two parts');
  });

  it('is said to read as meant, or not', async () => {
    const { screen, said } = await panel();
    const group = screen.one('group', 'How it reads');
    await screen.press('Does not', group);
    expect(said()).toEqual([{ ...where, what: { about: 'reads', ...about, asMeant: false } }]);
  });

  it('tells the join to the next letter, and takes another word for it', async () => {
    const { screen, said } = await panel({ verdict: 'missing' });
    const group = screen.one('group', 'Join to the n');
    const pressed = screen.all('button', undefined, group).map((one) => [textOf(one), one.getAttribute('aria-pressed')]);
    expect(pressed).toEqual([
      ['Joined', 'false'],
      ['Not joined', 'true'],
      ['Joined at another height', 'false'],
    ]);
    await screen.press('Joined', group);
    expect(said()).toEqual([{ ...where, what: { about: 'join', ...about, verdict: 'joined' } }]);
  });

  it('has no question about a join where none is expected', async () => {
    const { screen } = await panel();
    expect(screen.all('group').map((one) => one.getAttribute('aria-labelledby'))).toEqual(['reads-title']);
  });

  it('is somewhere else, or no ink at all', async () => {
    const { screen, place, said } = await panel();
    await screen.press('It is in another place');
    expect(place.mock.calls).toEqual([[{ of: 'letter', at: boxAt(10, 20), char: 'o' }, boxAt(10, 20)]]);
    await screen.press('No ink is this letter');
    expect(said()).toEqual([{ ...where, what: { about: 'letter', ...about, bounds: null } }]);
  });

  it('leads to the same letter through the weeks', async () => {
    const { screen } = await panel();
    expect(screen.one('link', 'Every o through the weeks').getAttribute('href')).toContain(PUPIL);
  });
});
