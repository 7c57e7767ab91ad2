import type { Hand, LetterModel, Paper, Profile, Ruling, TaskKind } from '../bridge/types';

export const PAPERS: readonly Paper[] = ['a4', 'a5', 'usLetter'];
export const RULING_KINDS: readonly Ruling['kind'][] = ['lines', 'plain', 'squares', 'fourLine'];
export const HANDS: readonly Hand[] = ['right', 'left'];
export const KINDS: readonly TaskKind[] = ['copied', 'dictated', 'ownWords'];
/** Reception to year 13. */
export const YEARS: readonly number[] = Array.from({ length: 14 }, (_, year) => year);

/** What a form starts from; each figure can be changed there. */
export function usualRuling(kind: Ruling['kind']): Ruling {
  switch (kind) {
    case 'plain':
      return { kind };
    case 'lines':
      return { kind, pitch: 8 };
    case 'squares':
      return { kind, side: 5, every: 2 };
    case 'fourLine':
      return { kind, pitch: 15, inner: 5 };
  }
}

/** A new pupil's profile, with the letters that the school most likely teaches. */
export function emptyProfile(model: LetterModel): Profile {
  return { name: '', year: 3, hand: 'right', model, paper: 'a4', ruling: usualRuling('lines') };
}

/** Typed lines without the empty ones at the end; `null` where nothing was typed. */
export function linesOf(text: string): string[] | null {
  const lines = text.split('\n').map((line) => line.trim());
  while (lines.at(-1) === '') lines.pop();
  return lines.length > 0 ? lines : null;
}
