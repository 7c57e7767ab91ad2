// What a person said of the sheet: what on it is no writing of the pupil's, and where a line is that was missed. It is
// shown whatever else is looked at, since every figure of the page goes by it.
import type { Amendment, AmendmentRecord, BoxMm } from '../bridge/types';
import { words } from '../words/words';
import { bracketed, type Drawn, hatched, type Label } from './drawn';
import type { Meaning } from './findings';

type OfSheet = Extract<Amendment['about'], 'notWriting' | 'line'>;

/** How each of them is drawn, and what the shape means. */
const SHOWN = {
  notWriting: { kind: 'leftOut', path: hatched, means: words.desk.legend.leftOut },
  line: { kind: 'givenLine', path: bracketed, means: words.desk.legend.givenLine },
} as const satisfies Record<OfSheet, { kind: Drawn['kind']; path: (box: BoxMm) => string; means: string }>;
const ALL = Object.keys(SHOWN) as OfSheet[];

function placesOf(amendments: readonly AmendmentRecord[], about: OfSheet): BoxMm[] {
  return amendments.flatMap(({ what }) => (what.about === about ? [what.at] : []));
}

export function drawnOfSheet(amendments: readonly AmendmentRecord[]): Drawn[] {
  return ALL.map((about) => {
    const { kind, path } = SHOWN[about];
    return { kind, d: placesOf(amendments, about).map(path).join('') };
  }).filter(({ d }) => d !== '');
}

/** What is written on the page: within what is left out, where it covers nothing that counts. A line needs no words on it. */
export function labelsOfSheet(amendments: readonly AmendmentRecord[]): Label[] {
  return placesOf(amendments, 'notWriting').map(({ x0, y0 }): Label => ({
    at: { x: x0, y: y0 },
    text: words.desk.ofSheet.leftOut,
    side: 'below',
    anchor: 'start',
  }));
}

export function meaningsOfSheet(amendments: readonly AmendmentRecord[]): Meaning[] {
  return ALL.filter((about) => placesOf(amendments, about).length > 0).map((about) => {
    const { kind, means } = SHOWN[about];
    return { kind, means };
  });
}

/** One sentence for each, for whoever cannot see the page. */
export function saidOfSheet(amendments: readonly AmendmentRecord[]): string[] {
  const t = words.desk.ofSheet;
  const [out, lines] = [placesOf(amendments, 'notWriting').length, placesOf(amendments, 'line').length];
  return [...(out > 0 ? [t.leftOutHere(out)] : []), ...(lines > 0 ? [t.linesHere(lines)] : [])];
}
