import type { LetterForm, LetterModel } from '../bridge/types';
import { words } from '../words/words';

/** A letter model in a few sets of letters, each in the order of the alphabet. */
export interface Taught {
  /** Left at the bottom: joined on by a diagonal stroke. */
  diagonal: string[];
  /** Left at the top: joined on by a horizontal stroke. */
  horizontal: string[];
  notJoined: string[];
  /** Letters that nothing is joined to, where letters are joined at all. */
  notJoinedTo: string[];
  looped: string[];
  twoStoreys: string[];
}

export function taught({ letters }: LetterModel): Taught {
  const where = (holds: (form: LetterForm) => boolean) => letters.filter(holds).map(({ letter }) => letter);
  const joined = letters.filter(({ exit }) => exit !== 'none');
  return {
    diagonal: where(({ exit }) => exit === 'bottom'),
    horizontal: where(({ exit }) => exit === 'top'),
    notJoined: where(({ exit }) => exit === 'none'),
    notJoinedTo: joined.length > 0 ? where(({ letter }) => !joined.some(({ joinsTo }) => joinsTo.includes(letter))) : [],
    looped: where(({ looped }) => looped),
    twoStoreys: where(({ storeys }) => storeys === 'two'),
  };
}

/** The same as sentences; a set that is empty has none. */
export function taughtTexts(model: LetterModel): string[] {
  const t = words.taught;
  const sets = taught(model);
  if (sets.diagonal.length + sets.horizontal.length === 0) return [t.unjoined, ...shapeTexts(sets)];
  const told: [string[], (letters: string) => string][] = [
    [sets.diagonal, t.diagonal],
    [sets.horizontal, t.horizontal],
    [sets.notJoined, t.notJoined],
    [sets.notJoinedTo, t.notJoinedTo],
  ];
  return [...texts(told), ...shapeTexts(sets)];
}

function shapeTexts({ looped, twoStoreys }: Taught): string[] {
  return texts([
    [looped, words.taught.looped],
    [twoStoreys, words.taught.twoStoreys],
  ]);
}

function texts(told: [string[], (letters: string) => string][]): string[] {
  return told.filter(([letters]) => letters.length > 0).map(([letters, say]) => say(letters.join(' ')));
}

/** Heights of a model's letters, in x-heights. */
export function reachOf({ letters }: LetterModel): { above: number; below: number } {
  return {
    above: Math.max(1, ...letters.map(({ above }) => above)),
    below: Math.max(0, ...letters.map(({ below }) => below)),
  };
}
