// From what is to be shown to what SVG draws: one path for each kind of shape, however many there are of it, so that a
// page with a thousand shapes is moved and drawn as fast as an empty one. Shapes differ by form, not by colour alone.
import type { BoxMm, PointMm, Reading } from '../bridge/types';
import { number, rough } from '../words/format';
import { words } from '../words/words';
import type { JoinDrawn, Overlay, Path } from './overlay';

export type Kind =
  | 'rule' | 'baseline' | 'area' | 'band' | 'top' | 'rise' | 'fall' | 'gap' | 'letterGap' | 'fault' | 'unsure' | 'extra'
  | 'caret' | 'made' | 'missing' | 'cross' | 'wrongHeight' | 'stroke' | 'correction' | 'lit'
  | 'leftOut' | 'givenLine';

/** All shapes of one kind, as the `d` of one path. */
export interface Drawn {
  kind: Kind;
  d: string;
}

/** A text beside a place: below or above it, about its middle or ending at it. */
export interface Label {
  at: PointMm;
  text: string;
  side: 'below' | 'above';
  anchor: 'middle' | 'start' | 'end';
}

const round = (value: number) => Math.round(value * 100) / 100;
const point = ({ x, y }: PointMm) => `${round(x)} ${round(y)}`;

export const openPath = (path: Path): string => (path.length > 1 ? `M${path.map(point).join('L')}` : '');
const closedPath = (path: Path) => (path.length > 1 ? `${openPath(path)}Z` : '');

export function boxPath({ x0, y0, x1, y1 }: BoxMm): string {
  return `M${round(x0)} ${round(y0)}H${round(x1)}V${round(Math.max(y0, y1))}H${round(x0)}Z`;
}

/** Points as SVG writes them. */
export function pointsText(points: Path): string {
  return points.map(({ x, y }) => `${x},${y}`).join(' ');
}

/** The paths of an overlay, in the order in which they lie over one another. */
export function drawnOf(overlay: Overlay): Drawn[] {
  const boxes = (role: Overlay['boxes'][number]['role']) =>
    overlay.boxes.filter((box) => box.role === role).map(({ bounds }) => boxPath(bounds));
  const joins = (verdict: JoinDrawn['verdict']) => overlay.joins.filter((join) => join.verdict === verdict);
  const all: [Kind, string[]][] = [
    ['band', overlay.bands.map(closedPath)],
    ['area', overlay.againstRules.map(({ area }) => closedPath(area))],
    ['rule', overlay.rules.map(openPath)],
    ['baseline', overlay.baselines.map(openPath)],
    ['top', overlay.tops.map(openPath)],
    ['rise', overlay.rises.map(capped)],
    ['fall', overlay.falls.map(capped)],
    ['gap', boxes('gap')],
    ['letterGap', overlay.letterGaps.map(floor)],
    ['extra', boxes('extra')],
    ['unsure', boxes('unsure')],
    ['fault', boxes('fault')],
    ['caret', overlay.skipped.map(({ at }) => caret(at))],
    ['made', joins('joined').map(bow)],
    ['missing', joins('missing').map(({ at }) => boxPath(at))],
    ['cross', joins('missing').map(cross)],
    ['wrongHeight', joins('wrongHeight').map(wedge)],
    ['stroke', overlay.strokes.map(openPath)],
    ['correction', boxes('correction')],
  ];
  return all.map(([kind, paths]) => ({ kind, d: paths.join('') })).filter(({ d }) => d !== '');
}

/** What is written beside the shapes. `width`: of the page, in mm. */
export function labelsOf(overlay: Overlay, width: number): Label[] {
  return [
    ...overlay.againstRules.map(({ area, offset }): Label => ({
      // In the margin, so that a column of figures stands beside the lines.
      at: { x: width - 1, y: area[area.length / 2 - 1]?.y ?? 0 },
      text: offsetText(offset),
      side: 'below',
      anchor: 'end',
    })),
    ...overlay.wordGaps.map(({ at, oWidths }): Label => ({
      at: { x: (at.x0 + at.x1) / 2, y: at.y1 },
      text: rough(oWidths),
      side: 'below',
      anchor: 'middle',
    })),
    ...overlay.skipped.map(({ at, letter }): Label => ({
      at: { x: (at.x0 + at.x1) / 2, y: at.y1 + CARET },
      text: letter,
      side: 'below',
      anchor: 'middle',
    })),
    ...overlay.corrections.map(({ bounds, kind }): Label => ({
      at: { x: bounds.x0, y: bounds.y0 },
      text: words.correctionKinds[kind],
      side: 'above',
      anchor: 'start',
    })),
  ];
}

/** A height against the rule, in words: a sign would have to be explained. */
export function offsetText(offset: number): string {
  const value = words.units.mm(number(Math.abs(offset), 'mm'));
  return offset < 0 ? words.places.below(value) : words.places.above(value);
}

/** What is written keeps within the white between two lines: at most this share of their distance, and so many pixels. */
const MOST_SHARE = 0.4;
const MOST_PIXELS = 13;
/** Smaller than this, in pixels, nobody reads it. */
const LEAST_PIXELS = 7;

/** Size in pixels of what is written beside the shapes; 0 where the page is too small for it. */
export function labelSize(reading: Reading | null, pixelsForMm: number): number {
  const size = Math.min(MOST_PIXELS, MOST_SHARE * (reading?.ruling?.pitch ?? 8) * pixelsForMm);
  return size < LEAST_PIXELS ? 0 : size;
}

/** Sizes in mm of what has no size of its own; all smaller than a short letter. */
const CAP = 0.7;
const CARET = 1.4;
const SIGN = 0.6;
/** Room between the line and a sign below it. */
const BELOW = 1;

/** A line with a bar across its end. */
function capped(path: Path): string {
  const end = path.at(-1);
  return end ? `${openPath(path)}M${point({ x: end.x - CAP, y: end.y })}H${round(end.x + CAP)}` : '';
}

/** The floor of a white, with two short walls. */
function floor({ x0, x1, y1 }: BoxMm): string {
  const wall = round(y1 + 0.5);
  return `M${round(x0)} ${round(y1)}V${wall}H${round(Math.max(x1, x0 + 0.1))}V${round(y1)}`;
}

/** How far apart the lines of a hatching stand, and how long the arms of a bracket are, in mm. */
const HATCH = 4;
const ARM = 2.5;

/** A box with slanting lines across it. */
export function hatched(box: BoxMm): string {
  const { x0, y0, x1, y1 } = box;
  let lines = '';
  // Along each of them x + y is the same.
  for (let sum = x0 + y0 + HATCH; sum < x1 + y1; sum += HATCH) {
    const [right, left] = [Math.min(x1, sum - y0), Math.max(x0, sum - y1)];
    lines += openPath([{ x: left, y: sum - left }, { x: right, y: sum - right }]);
  }
  return boxPath(box) + lines;
}

/** Brackets at both ends of a box. */
export function bracketed({ x0, y0, x1, y1 }: BoxMm): string {
  const arm = Math.min(ARM, (x1 - x0) / 3);
  const bracket = (at: number, to: number) =>
    openPath([{ x: to, y: y0 }, { x: at, y: y0 }, { x: at, y: y1 }, { x: to, y: y1 }]);
  return bracket(x0, x0 + arm) + bracket(x1, x1 - arm);
}

/** An arrowhead below a place. */
function caret({ x0, x1, y1 }: BoxMm): string {
  const middle = (x0 + x1) / 2;
  return openPath([
    { x: middle - CARET / 2, y: y1 + CARET },
    { x: middle, y: y1 },
    { x: middle + CARET / 2, y: y1 + CARET },
  ]);
}

/** A join that is made: a shallow bow under it. */
function bow({ at, base }: JoinDrawn): string {
  const y = base + BELOW;
  return `M${round(at.x0)} ${round(y)}Q${round((at.x0 + at.x1) / 2)} ${round(y + SIGN)} ${round(at.x1)} ${round(y)}`;
}

/** A join that is missing: a cross under its place. */
function cross({ at, base }: JoinDrawn): string {
  const [x, y] = [(at.x0 + at.x1) / 2, base + BELOW + SIGN];
  return (
    openPath([{ x: x - SIGN, y: y - SIGN }, { x: x + SIGN, y: y + SIGN }]) +
    openPath([{ x: x - SIGN, y: y + SIGN }, { x: x + SIGN, y: y - SIGN }])
  );
}

/** A join at another height: its place, the height it has, and a wedge under it. */
function wedge({ at, base, low }: JoinDrawn): string {
  const [x, y] = [(at.x0 + at.x1) / 2, base + BELOW];
  const height = low === null ? '' : openPath([{ x: at.x0, y: low }, { x: at.x1, y: low }]);
  return (
    boxPath(at) +
    height +
    closedPath([{ x, y }, { x: x + SIGN, y: y + 2 * SIGN }, { x: x - SIGN, y: y + 2 * SIGN }])
  );
}

/** A small sample of a kind for a legend, within 12 mm by 7 mm. */
export function sampleOf(kind: Kind): Drawn[] {
  const at: BoxMm = { x0: 3, y0: 1, x1: 9, y1: 5 };
  const flat = (y: number) => openPath([{ x: 1, y }, { x: 11, y }]);
  const join: JoinDrawn = { at, verdict: 'joined', base: 4, low: 3 };
  const drawn: Partial<Record<Kind, string>> = {
    rule: flat(4),
    baseline: flat(3),
    area: boxPath({ x0: 1, y0: 2, x1: 11, y1: 5 }),
    band: boxPath({ x0: 1, y0: 2, x1: 11, y1: 5 }),
    top: openPath([{ x: 3, y: 3 }, { x: 9, y: 3 }]),
    rise: capped([{ x: 6, y: 6 }, { x: 6, y: 1 }]),
    fall: capped([{ x: 6, y: 1 }, { x: 6, y: 6 }]),
    letterGap: floor({ x0: 4, y0: 1, x1: 8, y1: 4 }),
    caret: caret({ x0: 5, y0: 1, x1: 7, y1: 3 }),
    made: bow({ ...join, base: 2.5 }),
    missing: boxPath({ ...at, y1: 3.6 }),
    wrongHeight: wedge({ ...join, at: { ...at, y1: 4 }, base: 4 }),
    stroke: openPath([{ x: 5, y: 6 }, { x: 7, y: 1 }]),
    leftOut: hatched({ x0: 1, y0: 1, x1: 11, y1: 6 }),
    givenLine: bracketed({ x0: 1, y0: 2, x1: 11, y1: 5 }),
  };
  const sample = { kind, d: drawn[kind] ?? boxPath(at) };
  return kind === 'missing' ? [sample, { kind: 'cross', d: cross({ ...join, base: 3.6 }) }] : [sample];
}
