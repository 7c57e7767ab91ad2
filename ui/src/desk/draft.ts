import type { BoxMm, MarkShape, PointMm } from '../bridge/types';

export type Tool = MarkShape['shape'];

/** A page's extent in mm. */
export interface Extent {
  width: number;
  height: number;
}

const round = (value: number) => Math.round(value * 100) / 100;

/** The point, kept on the page and to a hundredth of a millimetre. */
export function onPage({ x, y }: PointMm, page: Extent): PointMm {
  const within = (value: number, end: number) => round(Math.min(end, Math.max(0, value)));
  return { x: within(x, page.width), y: within(y, page.height) };
}

export function boxOf(one: PointMm, other: PointMm): BoxMm {
  return {
    x0: Math.min(one.x, other.x),
    y0: Math.min(one.y, other.y),
    x1: Math.max(one.x, other.x),
    y1: Math.max(one.y, other.y),
  };
}

/** What a tool starts with, so that it can be placed without any drag: about the middle of what is seen. */
export function startShape(tool: Tool, middle: PointMm, page: Extent): MarkShape {
  const left = onPage({ x: middle.x - 20, y: middle.y - 5 }, page);
  const right = onPage({ x: middle.x + 20, y: middle.y + 5 }, page);
  switch (tool) {
    case 'box':
      return { shape: 'box', bounds: boxOf(left, right) };
    case 'pen':
      return { shape: 'pen', points: [{ x: left.x, y: right.y }, right] };
    case 'note':
      return { shape: 'note', at: onPage(middle, page) };
  }
}

/** The shape shifted as a whole, no further than the page's edge. */
export function moved(shape: MarkShape, dx: number, dy: number, page: Extent): MarkShape {
  const all = cornersOf(shape);
  const [xs, ys] = [all.map(({ x }) => x), all.map(({ y }) => y)];
  const byX = Math.min(page.width - Math.max(...xs), Math.max(-Math.min(...xs), dx));
  const byY = Math.min(page.height - Math.max(...ys), Math.max(-Math.min(...ys), dy));
  const by = ({ x, y }: PointMm) => ({ x: round(x + byX), y: round(y + byY) });
  switch (shape.shape) {
    case 'box': {
      const { x0, y0, x1, y1 } = shape.bounds;
      return { shape: 'box', bounds: boxOf(by({ x: x0, y: y0 }), by({ x: x1, y: y1 })) };
    }
    case 'pen':
      return { shape: 'pen', points: shape.points.map(by) };
    case 'note':
      return { shape: 'note', at: by(shape.at) };
  }
}

/** Whether the shape has an extent that can be seen. */
export function isDrawn(shape: MarkShape): boolean {
  switch (shape.shape) {
    case 'box':
      return shape.bounds.x1 > shape.bounds.x0 && shape.bounds.y1 > shape.bounds.y0;
    case 'pen':
      return shape.points.length > 1;
    case 'note':
      return true;
  }
}

function cornersOf(shape: MarkShape): PointMm[] {
  switch (shape.shape) {
    case 'box':
      return [
        { x: shape.bounds.x0, y: shape.bounds.y0 },
        { x: shape.bounds.x1, y: shape.bounds.y1 },
      ];
    case 'pen':
      return shape.points;
    case 'note':
      return [shape.at];
  }
}
