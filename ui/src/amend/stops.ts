import { type Aspect, type BoxMm, type Correction, type Join, type Letter, type PointMm, type Reading, SAME_PLACE } from '../bridge/types';
import { areaOf, distance, sharedOf } from '../desk/boxes';
import { isSure } from '../desk/overlay';

/** What lies at a place of the page. */
type There =
  | { of: 'letter'; at: BoxMm; char: string; letter: Letter; join: Join | null; next: string | null }
  | { of: 'skipped'; at: BoxMm; char: string; line: number }
  | { of: 'correction'; at: BoxMm; char: null; correction: Correction };

/** A place of the page that can be looked at by itself, and be put right. */
export type Stop = There & {
  /** How many before it have the very same letter and box. */
  nth: number;
};

/** What was picked: it names its place, so that it is found again when the page was measured anew. */
export interface Picked {
  at: BoxMm;
  char: string | null;
  nth?: number;
  /** The box is as a person drew it, with room about the ink. */
  drawn?: boolean;
}

/** The places of a page in the order of reading: its corrections for that aspect, else its letters. */
export function stopsOf(reading: Reading, aspect: Aspect | null): Stop[] {
  if (aspect === 'corrections') {
    return counted(
      reading.corrections.map((correction) => ({ of: 'correction', at: correction.bounds, char: null, correction })),
    );
  }
  const joins = new Map(reading.joins.map((join) => [join.left, join]));
  const letters = reading.letters.flatMap((letter, index): There[] => {
    const { char, bounds } = letter;
    if (char === null) return [];
    const join = joins.get(index) ?? null;
    return [{ of: 'letter', at: bounds, char, letter, join, next: join ? (reading.letters[index + 1]?.char ?? null) : null }];
  });
  const skipped = (reading.text?.skipped ?? []).map(
    ({ at, letter, line }): There => ({ of: 'skipped', at, char: letter, line }),
  );
  return counted(
    [...letters, ...skipped].sort((one, other) => lineOf(one) - lineOf(other) || one.at.x0 - other.at.x0),
  );
}

/** Tells apart those of one letter and one box: letters left out side by side may have no box of their own. */
function counted(all: There[]): Stop[] {
  const seen = new Map<string, number>();
  return all.map((one) => {
    const { x0, y0, x1, y1 } = one.at;
    const key = [one.char, x0, y0, x1, y1].join(' ');
    const nth = seen.get(key) ?? 0;
    seen.set(key, nth + 1);
    return { ...one, nth };
  });
}

/** Index of the line that a letter stands in. */
export function lineOf(stop: There): number {
  if (stop.of === 'letter') return stop.letter.line;
  return stop.of === 'skipped' ? stop.line : 0;
}

/** Whether there is something to look at: for joins a join, else the form. */
export function isAmiss(stop: Stop, aspect: Aspect | null): boolean {
  if (stop.of !== 'letter') return true;
  if (aspect === 'joins') return stop.join !== null && stop.join.verdict !== 'joined';
  return isSure(stop.letter) && stop.letter.faults.length > 0;
}

/** The stop that was picked, in a reading made later: of the same letter, and the most in the same place. */
export function found(stops: Stop[], picked: Picked | null): Stop | null {
  if (!picked) return null;
  const shares = stops.map((stop) => (stop.char === picked.char ? likeness(stop, picked) : 0));
  const most = Math.max(SAME_PLACE, ...shares);
  const best = stops.filter((_, index) => shares[index] === most);
  return best.find(({ nth }) => nth === picked.nth) ?? best[0] ?? null;
}

/** How much a stop lies where something was picked, from 0 to 1. */
function likeness(stop: Stop, { at, drawn }: Picked): number {
  const shared = sharedOf(stop.at, at);
  if (shared === 0) return 0;
  // A letter that was put by hand has only the ink within the box, however large that was drawn.
  if (drawn && stop.of === 'letter' && stop.letter.byHand) return shared / areaOf(stop.at);
  return shared / (areaOf(stop.at) + areaOf(at) - shared);
}

/** The stop at a point, or the nearest no further from it than `reach`, in mm. */
export function stopAt(stops: Stop[], point: PointMm, reach: number): Stop | null {
  let best: { stop: Stop; far: number; off: number } | null = null;
  for (const stop of stops) {
    const far = distance(stop.at, point);
    // Of boxes that overlap, the one whose middle is nearest.
    const off = Math.hypot(point.x - (stop.at.x0 + stop.at.x1) / 2, point.y - (stop.at.y0 + stop.at.y1) / 2);
    const nearer = !best || far < best.far || (far === best.far && off < best.off);
    if (far <= reach && nearer) best = { stop, far, off };
  }
  return best?.stop ?? null;
}

/** The next stop, or the one before; with `amiss` only those with something to look at. `null` past the ends. */
export function stepped(
  stops: Stop[],
  from: Stop | null,
  by: 1 | -1,
  amiss: ((stop: Stop) => boolean) | null,
): Stop | null {
  const start = from ? stops.indexOf(from) : by > 0 ? -1 : stops.length;
  for (let at = start + by; at >= 0 && at < stops.length; at += by) {
    const stop = stops[at];
    if (stop && (!amiss || amiss(stop))) return stop;
  }
  return null;
}
