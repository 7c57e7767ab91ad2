import type { Exit, LetterClass, LetterForm, LetterModel } from '../bridge/types';

export const ALPHABET: readonly string[] = [...'abcdefghijklmnopqrstuvwxyz'];
export const EXITS: readonly Exit[] = ['bottom', 'top', 'none'];
/** Classes that a small letter can have. */
export type TaughtClass = Exclude<LetterClass, 'other'>;
export const CLASSES: readonly TaughtClass[] = ['short', 'tall', 'tail'];

/** Reaches that a letter starts from when its class is changed, in x-heights; each can be changed. */
const START: Record<TaughtClass, { above: number; below: number }> = {
  short: { above: 1, below: 0 },
  tall: { above: 1.7, below: 0 },
  tail: { above: 1, below: 0.7 },
};

/** What can be said of a letter: an f may rise above and fall below, only a and g have two storeys. */
export function choicesOf({ letter, class: kind }: LetterForm) {
  return {
    above: kind !== 'short',
    below: kind === 'tail' || (kind === 'tall' && letter === 'f'),
    looped: kind !== 'short',
    storeys: letter === 'a' || letter === 'g',
  };
}

/** The form with one thing changed, and what goes with it. */
export function changed(form: LetterForm, change: Partial<LetterForm>): LetterForm {
  const next = { ...form, ...change };
  if (change.class && change.class !== 'other' && change.class !== form.class) {
    Object.assign(next, START[change.class]);
    if (change.class === 'short') next.looped = false;
  }
  if (change.exit === 'none') next.joinsTo = '';
  // A letter that is left towards the next is joined to every one until somebody says otherwise.
  else if (change.exit && form.exit === 'none') next.joinsTo = ALPHABET.join('');
  return next;
}

/** The model with one letter changed. */
export function withForm(model: LetterModel, letter: string, change: Partial<LetterForm>): LetterModel {
  const letters = model.letters.map((form) => (form.letter === letter ? changed(form, change) : form));
  return { ...model, letters };
}

/** The letters joined to, with one put in or taken out; always in the order of the alphabet. */
export function toggled(joinsTo: string, letter: string): string {
  return ALPHABET.filter((one) => joinsTo.includes(one) !== (one === letter)).join('');
}

/** How the letters joined to are told shortest: as they are, or as all but a few. */
export function joinsOf(joinsTo: string): { all: boolean; letters: string[] } {
  const [to, not] = [true, false].map((joined) => ALPHABET.filter((one) => joinsTo.includes(one) === joined));
  return (not ?? []).length < (to ?? []).length ? { all: true, letters: not ?? [] } : { all: false, letters: to ?? [] };
}

/** Whether two models teach the same under the same name. */
export function isSame(one: LetterModel, other: LetterModel): boolean {
  const flat = ({ name, letters }: LetterModel) => [
    name,
    ...letters.flatMap((form) => [
      form.letter,
      form.class,
      form.above,
      form.below,
      form.exit,
      form.joinsTo,
      form.looped,
      form.storeys,
    ]),
  ];
  const [a, b] = [flat(one), flat(other)];
  return a.length === b.length && a.every((value, at) => value === b[at]);
}
