import { describe, expect, it } from 'vitest';
import type { LetterForm, LetterModel } from '../bridge/types';
import { ALPHABET } from '../letters/model';
import { reachOf, taught, taughtTexts } from './taught';

const modelOf = (form: (letter: string) => Partial<LetterForm>): LetterModel => ({
  name: 'Ours',
  letters: ALPHABET.map((letter) => ({
    letter,
    class: 'short',
    above: 1,
    below: 0,
    exit: 'none',
    joinsTo: '',
    looped: false,
    storeys: 'one',
    ...form(letter),
  })),
});
/** Common practice: which letters are left at the top and which at the bottom. */
const partly = modelOf((letter) => {
  if ('acdehiklmntu'.includes(letter)) return { exit: 'bottom', joinsTo: 'abcdefghijklmnopqrstuvwy' };
  if ('orvw'.includes(letter)) return { exit: 'top', joinsTo: 'abcdefghijklmnopqrstuvwy' };
  return {};
});

describe('a letter model in sets', () => {
  it('parts the letters by where they are left', () => {
    const { diagonal, horizontal, notJoined, notJoinedTo } = taught(partly);
    expect([diagonal, horizontal].map((set) => set.join(''))).toEqual(['acdehiklmntu', 'orvw']);
    expect(notJoined.join('')).toBe('bfgjpqsxyz');
    expect(notJoinedTo).toEqual(['x', 'z']);
    expect(diagonal.length + horizontal.length + notJoined.length).toBe(26);
  });

  it('says so, and leaves out what there is none of', () => {
    expect(taughtTexts(partly)).toEqual([
      'Left at the bottom and joined on by a diagonal stroke: a c d e h i k l m n t u',
      'Left at the top and joined on by a level stroke: o r v w',
      'Not joined on: b f g j p q s x y z',
      'Nothing is joined to: x z',
    ]);
    const print = modelOf((letter) => (letter === 'a' ? { storeys: 'two' } : {}));
    expect(taughtTexts(print)).toEqual(['No letter is joined to the next.', 'With two parts, as in most print: a']);
  });

  it('reaches as far as its tallest and deepest letter', () => {
    const tall = modelOf((letter) => ({ b: { above: 1.7 }, g: { below: 0.7 } })[letter] ?? {});
    expect(reachOf(tall)).toEqual({ above: 1.7, below: 0.7 });
    expect(reachOf(modelOf(() => ({})))).toEqual({ above: 1, below: 0 });
  });
});
