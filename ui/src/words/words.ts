import { enGB } from './en-GB';
import { pseudo } from './pseudo';

export type Words = typeof enGB;

function wanted(): string | null {
  try {
    return localStorage.getItem('language');
  } catch {
    return null;
  }
}

/** What the screens say; chosen once, when the page opens. */
export const words: Words = wanted() === 'pseudo' ? pseudo(enGB) : enGB;
