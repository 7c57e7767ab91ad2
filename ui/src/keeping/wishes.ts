import type { Ask, KeepingView, PageId, PageRow, PupilView } from '../bridge/types';
import { day } from '../words/format';
import { words } from '../words/words';

/** The page that a wish is about, if it is about one and that one is still here. */
export function pageOf({ wish }: Ask, { pages }: PupilView): PageRow | null {
  return wish.what === 'page' ? (pages.find((row) => row.page === wish.page) ?? null) : null;
}

/** What is wished to be forgotten. */
export function wishText(ask: Ask, view: PupilView): string {
  const t = words.keeping;
  if (ask.wish.what === 'everything') return t.askAll(view.profile?.name ?? words.general.noName);
  const page = pageOf(ask, view);
  return page ? t.askPage(day(page.writtenOn)) : t.askPageGone;
}

/** Whether the family's wish that this page, or everything, be forgotten stands open. */
export function isAsked(keeping: KeepingView | null, page: PageId | null): boolean {
  return (keeping?.asks ?? []).some(({ wish }) => (wish.what === 'page' ? wish.page === page : page === null));
}
