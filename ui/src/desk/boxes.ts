import type { BoxMm, PointMm } from '../bridge/types';

export const middleOf = ({ x0, y0, x1, y1 }: BoxMm): PointMm => ({ x: (x0 + x1) / 2, y: (y0 + y1) / 2 });

export const areaOf = ({ x0, y0, x1, y1 }: BoxMm): number => (x1 - x0) * (y1 - y0);

/** The area that two boxes have in common. */
export function sharedOf(one: BoxMm, other: BoxMm): number {
  const width = Math.min(one.x1, other.x1) - Math.max(one.x0, other.x0);
  const height = Math.min(one.y1, other.y1) - Math.max(one.y0, other.y0);
  return width > 0 && height > 0 ? width * height : 0;
}

/** How far a point lies outside a box; 0 within it. */
export function distance({ x0, y0, x1, y1 }: BoxMm, { x, y }: PointMm): number {
  return Math.hypot(Math.max(x0 - x, 0, x - x1), Math.max(y0 - y, 0, y - y1));
}

export const isSameBox = (one: BoxMm, other: BoxMm): boolean =>
  one.x0 === other.x0 && one.y0 === other.y0 && one.x1 === other.x1 && one.y1 === other.y1;
