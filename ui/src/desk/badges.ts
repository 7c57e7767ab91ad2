import type { BoxMm, Mark, MarkShape, PointMm } from '../bridge/types';
import { sharedOf } from './boxes';
import type { Extent } from './draft';

/** Where the number of a mark stands, and the line that leads to it. */
export interface Badge {
  at: PointMm;
  /** The mark's nearest point; `null` where the number stands right beside it. */
  from: PointMm | null;
}

/** Steps away from the mark, in radii of a number. */
const STEPS = [1.3, 2.6, 4, 6, 9, 13, 18, 24];
/** No further from its mark than this, in radii, a number needs no line to it. */
const BESIDE = 2;
const WAYS: readonly PointMm[] = [
  { x: -1, y: -1 }, { x: 1, y: -1 }, { x: -1, y: 1 }, { x: 1, y: 1 },
  { x: 0, y: -1 }, { x: 0, y: 1 }, { x: -1, y: 0 }, { x: 1, y: 0 },
];

/**
 * Finds a place for each number where it covers no writing, no mark and no other number: as near to its mark as there
 * is room, else in a margin. `ink` holds the boxes of the words; `radius` is that of a number, in mm.
 */
export function badgesOf(shapes: readonly MarkShape[], ink: readonly BoxMm[], page: Extent, radius: number): Badge[] {
  const marks = shapes.map(extentOf);
  const taken: BoxMm[] = [];
  return marks.map((mark) => {
    const places = placesAbout(mark, page, radius);
    const covered = (at: PointMm) => {
      const own = about(at, radius);
      const over = (boxes: readonly BoxMm[]) => boxes.reduce((sum, box) => sum + sharedOf(own, box), 0);
      return over(ink) + over(marks.map((box) => grown(box, 0.01))) + 10 * over(taken);
    };
    let best = places[0] ?? { x: radius, y: radius };
    let least = Infinity;
    for (const at of places) {
      const much = covered(at);
      if (much < least) [best, least] = [at, much];
      if (least === 0) break;
    }
    taken.push(about(best, radius));
    return { at: best, from: leaderOf(mark, best, radius) };
  });
}

/** The smallest box about a shape; a point has none of its own size. */
export function extentOf(shape: MarkShape): BoxMm {
  if (shape.shape === 'box') return shape.bounds;
  const points = shape.shape === 'note' ? [shape.at] : shape.points;
  const [xs, ys] = [points.map(({ x }) => x), points.map(({ y }) => y)];
  return { x0: Math.min(...xs), y0: Math.min(...ys), x1: Math.max(...xs), y1: Math.max(...ys) };
}

export const shapesOf = (marks: readonly Mark[]): MarkShape[] => marks.map(({ shape }) => shape);

const about = ({ x, y }: PointMm, radius: number): BoxMm => ({ x0: x - radius, y0: y - radius, x1: x + radius, y1: y + radius });

const grown = ({ x0, y0, x1, y1 }: BoxMm, by: number): BoxMm => ({ x0: x0 - by, y0: y0 - by, x1: x1 + by, y1: y1 + by });

/** Places to try, the nearest first; last the margins beside the mark. */
function placesAbout(mark: BoxMm, page: Extent, radius: number): PointMm[] {
  const [middleX, middleY] = [(mark.x0 + mark.x1) / 2, (mark.y0 + mark.y1) / 2];
  const edge = (way: number, low: number, middle: number, high: number) => (way < 0 ? low : way > 0 ? high : middle);
  const near = STEPS.flatMap((step) =>
    WAYS.map(({ x, y }) => ({
      x: edge(x, mark.x0, middleX, mark.x1) + x * step * radius,
      y: edge(y, mark.y0, middleY, mark.y1) + y * step * radius,
    })),
  );
  const rows = [0, 1, -1, 2, -2, 3, -3].map((row) => middleY + row * 2.2 * radius);
  const margins = rows.flatMap((y) => [{ x: 1.2 * radius, y }, { x: page.width - 1.2 * radius, y }]);
  const within = ({ x, y }: PointMm) => x >= radius && y >= radius && x <= page.width - radius && y <= page.height - radius;
  return [...near, ...margins].filter(within);
}

function leaderOf(mark: BoxMm, at: PointMm, radius: number): PointMm | null {
  const from = {
    x: Math.min(mark.x1, Math.max(mark.x0, at.x)),
    y: Math.min(mark.y1, Math.max(mark.y0, at.y)),
  };
  return Math.hypot(from.x - at.x, from.y - at.y) > BESIDE * radius ? from : null;
}
