import { keep, kept } from '../look/kept';
import { enGB } from './en-GB';
import { pseudo } from './pseudo';

export type Words = typeof enGB;

const LANGUAGE = 'language';
const PSEUDO = 'pseudo';
/** Spoken languages with their catalogues; the first is the one that nobody has to choose. */
const CATALOGUES = new Map<string, Words>([[enGB.locale, enGB]]);

/** Whoever tests the screens asks for the language that no one speaks in the address, `?pseudo`. */
function wanted(): string | null {
  if (typeof location !== 'undefined' && new URLSearchParams(location.search).has(PSEUDO)) keep(LANGUAGE, PSEUDO);
  return kept(LANGUAGE);
}

/** What the screens say in a language, or in the first one. */
export function wordsOf(language: string | null): Words {
  if (language === PSEUDO) return pseudo(enGB);
  return CATALOGUES.get(language ?? '') ?? enGB;
}

const asked = wanted();

/** What the screens say; chosen once, when the page opens. */
export const words: Words = wordsOf(asked);

/** Which language `words` are in. */
export const language: string = words === enGB || asked === null ? enGB.locale : asked;

/** What can be chosen from, each by its own name. The one for tests is there only where it was asked for. */
export const languages: readonly { language: string; name: string }[] = [
  ...[...CATALOGUES].map(([code, catalogue]) => ({ language: code, name: catalogue.ownName })),
  ...(language === PSEUDO ? [{ language: PSEUDO, name: words.ownName }] : []),
];

/** The page opens anew in another language. */
export function chooseLanguage(chosen: string): void {
  keep(LANGUAGE, chosen === enGB.locale ? null : chosen);
  // Without what was asked for in the address.
  history.replaceState(null, '', `${location.pathname}${location.hash}`);
  location.reload();
}
