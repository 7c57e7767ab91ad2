import { words } from '../words/words';

const t = words.letGo;

/** What is so wherever something is forgotten for good, after what goes. */
export function forgottenForGood(...goes: string[]): string[] {
  return [...goes, t.cleared, t.late, t.follow, t.notRecalled, t.noWayBack];
}
