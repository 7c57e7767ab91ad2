import type { Chart, TaskKind } from '../bridge/types';

/** Always in this order; they are never mixed. */
const KINDS: readonly TaskKind[] = ['copied', 'dictated', 'ownWords'];

export interface KindOfPages {
  kind: TaskKind;
  /** How many pages have a figure. */
  pages: number;
}

/** The kinds that have charts. */
export function kindsOf(charts: readonly Chart[]): KindOfPages[] {
  return KINDS.map((kind) => {
    const pages = charts.filter((chart) => chart.kind === kind).flatMap(({ points }) => points.map(({ page }) => page));
    return { kind, pages: new Set(pages).size };
  }).filter(({ pages }) => pages > 0);
}

/** The kind with most pages; of equals the first. */
export function mostOf(kinds: readonly KindOfPages[]): KindOfPages | null {
  return kinds.reduce<KindOfPages | null>((most, one) => (most && most.pages >= one.pages ? most : one), null);
}
