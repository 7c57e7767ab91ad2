import { describe, expect, it } from 'vitest';
import type { LetterForm, LetterModel } from '../bridge/types';
import { ALPHABET, changed, choicesOf, isSame, joinsOf, toggled, withForm } from './model';

const form = (letter: string, more: Partial<LetterForm> = {}): LetterForm => ({
  letter,
  class: 'short',
  above: 1,
  below: 0,
  exit: 'none',
  joinsTo: '',
  looped: false,
  storeys: 'one',
  ...more,
});
const model: LetterModel = { name: 'Ours', letters: ALPHABET.map((letter) => form(letter)) };

describe('changing how a letter is taught', () => {
  it('gives a letter of another class the reaches of that class', () => {
    const tall = changed(form('b', { exit: 'bottom', joinsTo: 'a' }), { class: 'tall' });
    expect([tall.above, tall.below]).toEqual([1.7, 0]);
    expect(tall.joinsTo).toBe('a');
    const tail = changed(tall, { class: 'tail', looped: true });
    expect([tail.above, tail.below, tail.looped]).toEqual([1, 0.7, true]);
    expect(changed(tail, { class: 'short' })).toMatchObject({ above: 1, below: 0, looped: false });
  });

  it('keeps reaches that were set when the class stays', () => {
    const set = form('h', { class: 'tall', above: 2 });
    expect(changed(set, { class: 'tall' }).above).toBe(2);
    expect(changed(set, { looped: true }).above).toBe(2);
  });

  it('joins to nothing without an exit, and to all when it gets one', () => {
    const left = changed(form('a'), { exit: 'top' });
    expect(left.joinsTo).toBe(ALPHABET.join(''));
    expect(changed({ ...left, joinsTo: 'en' }, { exit: 'bottom' }).joinsTo).toBe('en');
    expect(changed(left, { exit: 'none' }).joinsTo).toBe('');
  });

  it('changes one letter of the model and no other', () => {
    const next = withForm(model, 'g', { class: 'tail' });
    expect(next.letters.filter((one, at) => one !== model.letters[at]).map((one) => one.letter)).toEqual(['g']);
    expect(isSame(model, next)).toBe(false);
    expect(isSame(model, structuredClone(model))).toBe(true);
    expect(isSame(model, { ...model, name: 'Theirs' })).toBe(false);
  });

  it('offers only what a letter can have', () => {
    expect(choicesOf(form('f', { class: 'tall' }))).toEqual({ above: true, below: true, looped: true, storeys: false });
    expect(choicesOf(form('b', { class: 'tall' })).below).toBe(false);
    expect(choicesOf(form('a'))).toEqual({ above: false, below: false, looped: false, storeys: true });
  });
});

describe('the letters joined to', () => {
  it('are put in and taken out in the order of the alphabet', () => {
    expect(toggled('cz', 'm')).toBe('cmz');
    expect(toggled('cmz', 'c')).toBe('mz');
    expect(toggled('', 'a')).toBe('a');
  });

  it('are told as all but a few, or as a few', () => {
    expect(joinsOf('abcdefghijklmnopqrstuvwy')).toEqual({ all: true, letters: ['x', 'z'] });
    expect(joinsOf(ALPHABET.join(''))).toEqual({ all: true, letters: [] });
    expect(joinsOf('ae')).toEqual({ all: false, letters: ['a', 'e'] });
    expect(joinsOf('')).toEqual({ all: false, letters: [] });
  });
});
