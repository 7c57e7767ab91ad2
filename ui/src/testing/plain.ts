// Back from the language that no one speaks, so that one test reads the same sentences in both.
import { CLOSING, OPENING } from '../words/pseudo';

/** Whether every word of a text came through the catalogue. */
export function isPseudo(text: string): boolean {
  return text.startsWith(OPENING) && text.endsWith(CLOSING);
}

/** A text as it stands in the first catalogue, whichever of both it was written in. */
export function plain(text: string): string {
  return text
    .replaceAll(new RegExp(`·*${CLOSING}`, 'gu'), '')
    .replaceAll(OPENING, '')
    // An accent is a sign of its own once a letter is taken apart (Unicode Standard Annex 15).
    .normalize('NFD')
    .replaceAll(/\p{Mark}/gu, '')
    .replaceAll(/\s+/gu, ' ')
    .trim();
}
