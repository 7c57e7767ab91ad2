import type { Aspect, AspectVerdict, TaskKind } from '../bridge/types';
import { words } from '../words/words';

const t = words.progress;

/** What the history says of one aspect, in a sentence; where pages of several kinds differ, a sentence for each. */
export function verdictText(aspect: Aspect, verdicts: readonly AspectVerdict[]): string {
  const kinds = new Map<string, TaskKind[]>();
  for (const one of verdicts.filter((verdict) => verdict.aspect === aspect)) {
    const said = saidOf(one);
    kinds.set(said, [...(kinds.get(said) ?? []), one.kind]);
  }
  const told = [...kinds];
  if (told.length === 0) return t.noPagesYet;
  if (told.length === 1) return told.map(([said]) => t.sentence(said)).join('');
  return told.map(([said, of]) => t.ofKind(kindsOf(of), said)).join(' ');
}

function kindsOf([first, ...others]: readonly TaskKind[]): string {
  return t.kinds(first ? words.kinds[first] : '', ...others.map((kind) => words.kinds[kind]));
}

function saidOf({ verdict, pages }: AspectVerdict): string {
  return verdict === 'tooFewPages' ? t.early(pages) : t.verdicts[verdict];
}
