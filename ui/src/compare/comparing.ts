import type { Aspect, Figure, MeasureName, PageId, PageRow } from '../bridge/types';

/** The pages that one can be set beside, the newest first: those of its own kind before the others. */
export function others(pages: readonly PageRow[], page: PageId): PageRow[] {
  const own = pages.find((row) => row.page === page);
  const rest = pages.filter((row) => row.page !== page);
  const alike = rest.filter(({ kind }) => kind === own?.kind);
  return [...alike, ...rest.filter((row) => !alike.includes(row))];
}

/** The page to begin with: the last one before it, of its own kind if there is one, else whichever there is. */
export function firstOther(pages: readonly PageRow[], page: PageId): PageId | null {
  const own = pages.find((row) => row.page === page);
  const all = others(pages, page);
  const before = all.filter(({ writtenOn }) => own !== undefined && writtenOn <= own.writtenOn);
  return (before[0] ?? all[0])?.page ?? null;
}

/** One measure on both pages. */
export interface Pair {
  name: MeasureName;
  here: Figure | null;
  there: Figure | null;
}

export function pairsOf(here: readonly Figure[], there: readonly Figure[], aspect: Aspect | null): Pair[] {
  const named = (figures: readonly Figure[], name: MeasureName) => figures.find((one) => one.name === name) ?? null;
  const names = new Set([...here, ...there].filter((one) => one.aspect === aspect && aspect !== null).map(({ name }) => name));
  return [...names].map((name) => ({ name, here: named(here, name), there: named(there, name) }));
}

/** A step from one of the pages to the one before or after it in time; pages are listed with the newest first. */
export function stepFrom(pages: readonly PageRow[], from: PageId, by: 'earlier' | 'later', except: PageId): PageId | null {
  const rest = pages.filter((row) => row.page !== except);
  const at = rest.findIndex((row) => row.page === from);
  if (at < 0) return null;
  return rest[at + (by === 'earlier' ? 1 : -1)]?.page ?? null;
}
