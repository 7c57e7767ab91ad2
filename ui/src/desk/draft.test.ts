import { describe, expect, it } from 'vitest';
import { boxOf, isDrawn, moved, onPage, startShape } from './draft';

const A4 = { width: 210, height: 297 };

describe('a shape being drawn', () => {
  it('starts about the middle of what is seen and can be put at once', () => {
    const box = startShape('box', { x: 100, y: 100 }, A4);
    expect(box).toEqual({ shape: 'box', bounds: { x0: 80, y0: 95, x1: 120, y1: 105 } });
    for (const tool of ['box', 'pen', 'note'] as const) expect(isDrawn(startShape(tool, { x: 100, y: 100 }, A4))).toBe(true);
  });

  it('stays on the page when it is moved, without changing its size', () => {
    const box = startShape('box', { x: 100, y: 100 }, A4);
    expect(moved(box, 500, 500, A4)).toEqual({ shape: 'box', bounds: { x0: 170, y0: 287, x1: 210, y1: 297 } });
    expect(moved(box, -500, -500, A4)).toEqual({ shape: 'box', bounds: { x0: 0, y0: 0, x1: 40, y1: 10 } });
  });

  it('has ordered corners whichever way it was drawn', () => {
    expect(boxOf({ x: 9, y: 2 }, { x: 3, y: 7 })).toEqual({ x0: 3, y0: 2, x1: 9, y1: 7 });
  });

  it('is no shape while it has no extent', () => {
    expect(isDrawn({ shape: 'box', bounds: { x0: 1, y0: 1, x1: 1, y1: 5 } })).toBe(false);
    expect(isDrawn({ shape: 'pen', points: [{ x: 1, y: 1 }] })).toBe(false);
  });

  it('keeps points on the page', () => {
    expect(onPage({ x: -3, y: 300 }, A4)).toEqual({ x: 0, y: 297 });
  });
});
