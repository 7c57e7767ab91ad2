import { describe, expect, it } from 'vitest';
import type { BoxMm, MarkShape } from '../bridge/types';
import { badgesOf, extentOf } from './badges';
import { sharedOf } from './boxes';

const A4 = { width: 210, height: 297 };
const RADIUS = 3;
const box = (x0: number, y0: number, x1: number, y1: number): BoxMm => ({ x0, y0, x1, y1 });
const around = (at: { x: number; y: number }) => box(at.x - RADIUS, at.y - RADIUS, at.x + RADIUS, at.y + RADIUS);
const boxMark = (bounds: BoxMm): MarkShape => ({ shape: 'box', bounds });

/** Lines of words with hardly any white between them, as on a written page: 20 mm free on either side. */
const lines = Array.from({ length: 24 }, (_, line) => box(20, 20 + 8 * line, 190, 27 + 8 * line));

describe('the number of a mark', () => {
  it('stands beside it where there is room, without a line', () => {
    const [badge] = badgesOf([boxMark(box(100, 100, 120, 110))], [], A4, RADIUS);
    expect(badge?.from).toBeNull();
    expect(sharedOf(around(badge!.at), box(100, 100, 120, 110))).toBe(0);
    expect(Math.hypot(badge!.at.x - 100, badge!.at.y - 100)).toBeLessThan(3 * RADIUS);
  });

  it('covers no writing, on a page full of it', () => {
    const marks = [boxMark(box(60, 100, 90, 107)), boxMark(box(120, 60, 150, 67)), { shape: 'note', at: { x: 80, y: 64 } } as MarkShape];
    for (const { at, from } of badgesOf(marks, lines, A4, RADIUS)) {
      expect(lines.map((ink) => sharedOf(around(at), ink))).toEqual(lines.map(() => 0));
      // Far from its mark, a line leads there.
      expect(from).not.toBeNull();
    }
  });

  it('covers no other number and no other mark', () => {
    const marks = Array.from({ length: 6 }, (_, n) => boxMark(box(60 + n, 100, 90, 107)));
    const badges = badgesOf(marks, lines, A4, RADIUS);
    badges.forEach(({ at }, index) => {
      for (const other of badges.slice(index + 1)) expect(sharedOf(around(at), around(other.at))).toBe(0);
      for (const mark of marks) expect(sharedOf(around(at), extentOf(mark))).toBe(0);
    });
  });

  it('stays on the page', () => {
    const marks: MarkShape[] = [{ shape: 'note', at: { x: 0, y: 0 } }, { shape: 'note', at: { x: 210, y: 297 } }];
    for (const { at } of badgesOf(marks, [], A4, RADIUS)) {
      const { x0, y0, x1, y1 } = around(at);
      expect(x0 >= 0 && y0 >= 0 && x1 <= 210 && y1 <= 297).toBe(true);
    }
  });

  it('of a stroke stands beside the whole of it', () => {
    const stroke: MarkShape = { shape: 'pen', points: [{ x: 50, y: 60 }, { x: 90, y: 50 }, { x: 70, y: 80 }] };
    expect(extentOf(stroke)).toEqual(box(50, 50, 90, 80));
    const [badge] = badgesOf([stroke], [], A4, RADIUS);
    expect(sharedOf(around(badge!.at), extentOf(stroke))).toBe(0);
  });
});
