import type { Aspect } from '../bridge/types';
import { words } from '../words/words';

/** Sentences to start from: one's own words are always another way. */
export function readySentences(aspect: Aspect | null, praise: boolean): string[] {
  const { good, toTry } = words.marks.ready[aspect ?? 'page'];
  return Object.values(praise ? good : toTry);
}
