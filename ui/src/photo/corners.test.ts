import { describe, expect, it } from 'vitest';
import type { Corner } from '../bridge/types';
import { CORNER_NAMES, Corners } from './corners.svelte';

const FOUND: [Corner, Corner, Corner, Corner] = [
  { x: 0.2, y: 0.1 },
  { x: 0.8, y: 0.12 },
  { x: 0.82, y: 0.9 },
  { x: 0.18, y: 0.88 },
];
const photo = (corners: typeof FOUND | null) => ({ photoWidthPx: 1200, photoHeightPx: 1600, corners });

describe('the corners of a sheet', () => {
  it('begin where the program found them, and leave its answer as it was', () => {
    const corners = new Corners(photo(FOUND));
    expect(corners.at).toEqual(FOUND);
    corners.tap({ x: 0.5, y: 0.5 });
    expect(FOUND[0]).toEqual({ x: 0.2, y: 0.1 });
  });

  it('move as far across as down, in small steps and large ones', () => {
    const corners = new Corners(photo(FOUND));
    corners.chosen = 'bottomRight';
    corners.move(1, -1);
    const moved = (from: Corner) => [(corners.corner.x - from.x) * 1200, (corners.corner.y - from.y) * 1600];
    const [across = 0, down = 0] = moved(FOUND[2]);
    expect(across).toBeCloseTo(3.2);
    expect(down).toBeCloseTo(-3.2);
    const before = { ...corners.corner };
    corners.large = true;
    corners.move(-1, 0);
    const [far = 0] = moved(before);
    expect(far).toBeCloseTo(-48);
    expect([corners.at[0], corners.at[1], corners.at[3]]).toEqual([FOUND[0], FOUND[1], FOUND[3]]);
  });

  it('never leave the photograph', () => {
    const corners = new Corners(photo(FOUND));
    corners.large = true;
    for (let at = 0; at < 50; at += 1) corners.move(-1, -1);
    expect(corners.corner).toEqual({ x: 0, y: 0 });
    corners.tap({ x: 1.4, y: 0.5 });
    expect(corners.corner).toEqual({ x: 1, y: 0.5 });
  });

  it('that were found stay chosen after a tap', () => {
    const corners = new Corners(photo(FOUND));
    corners.tap({ x: 0.21, y: 0.11 });
    expect([corners.chosen, corners.corner]).toEqual(['topLeft', { x: 0.21, y: 0.11 }]);
  });

  it('that were not found are shown by four taps, one after the other', () => {
    const corners = new Corners(photo(null));
    FOUND.forEach((corner, at) => {
      expect(corners.chosen).toBe(CORNER_NAMES[at]);
      corners.tap(corner);
    });
    expect(corners.at).toEqual(FOUND);
    corners.tap({ x: 0.1, y: 0.9 });
    expect([corners.chosen, corners.at[3]]).toEqual(['bottomLeft', { x: 0.1, y: 0.9 }]);
  });

  it('are gone through clockwise', () => {
    const corners = new Corners(photo(FOUND));
    const seen = CORNER_NAMES.map(() => {
      corners.next();
      return corners.chosen;
    });
    expect(seen).toEqual(['topRight', 'bottomRight', 'bottomLeft', 'topLeft']);
  });

  it('can be drawn along, whichever was chosen', () => {
    const corners = new Corners(photo(FOUND));
    corners.drag('topRight', { x: 0.75, y: 0.15 });
    expect([corners.chosen, corners.at[1]]).toEqual(['topRight', { x: 0.75, y: 0.15 }]);
  });
});
