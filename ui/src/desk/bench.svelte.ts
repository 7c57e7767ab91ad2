import type { OfPage } from '../bridge/types';
import type { Session } from '../shell/session.svelte';
import { Acts } from './acts';
import { History } from './history.svelte';
import { Look } from './look.svelte';
import { Zoom } from './zoom.svelte';

export const PANELS = ['read', 'marks', 'right', 'details'] as const;
export type Panel = (typeof PANELS)[number];

/** What stays as it is when another page comes on the desk. */
export class Bench {
  readonly look = new Look();
  readonly zoom = new Zoom();
  /** The panel that is open; none where the screen is narrow and the page has all of it. */
  panel = $state<Panel | null>(null);
  readonly #acts = new Map<string, Acts>();

  constructor(readonly bridge: Session['bridge']) {}

  /** Opens a panel, or folds it away. */
  turn(panel: Panel): void {
    this.panel = this.panel === panel ? null : panel;
  }

  /** What was done on a page since the program was opened. */
  acts(where: OfPage): Acts {
    const known = this.#acts.get(where.page);
    const acts = known ?? new Acts(this.bridge, where, new History());
    if (!known) this.#acts.set(where.page, acts);
    return acts;
  }
}

const benches = new WeakMap<Session, Bench>();

export function benchOf(session: Session): Bench {
  const known = benches.get(session);
  const bench = known ?? new Bench(session.bridge);
  if (!known) benches.set(session, bench);
  return bench;
}
