import { describe, expect, it } from 'vitest';
import { Zoom } from './zoom.svelte';

const A4 = { width: 210, height: 297 };

/** A page of 210 mm in a frame of 840 px: 4 px for each mm at full width. */
function zoomed(frame = { width: 840, height: 600 }, page = A4): Zoom {
  const zoom = new Zoom();
  zoom.lay(page);
  zoom.room(frame);
  return zoom;
}

describe('a page in its frame', () => {
  it('is as wide as the frame to begin with, and shows its top', () => {
    const zoom = zoomed();
    expect([zoom.settled, zoom.percent, zoom.larger]).toEqual([4, 100, true]);
    expect(zoom.inFrame({ x: 0, y: 0 })).toEqual({ x: 0, y: 0 });
  });

  it('keeps its width and what stands at its top when the frame changes', () => {
    const zoom = zoomed();
    zoom.pan(0, -200);
    zoom.room({ width: 420, height: 300 });
    expect(zoom.settled).toBe(2);
    expect(zoom.inFrame({ x: 0, y: 50 })).toEqual({ x: 0, y: 0 });
  });

  it('is shown whole, and then stands in the middle', () => {
    const zoom = zoomed();
    zoom.whole();
    expect(zoom.settled).toBeCloseTo(600 / 297, 9);
    expect(zoom.larger).toBe(false);
    const [top, foot] = [zoom.inFrame({ x: 0, y: 0 }), zoom.inFrame({ x: 210, y: 297 })];
    expect([top.y, foot.y]).toEqual([expect.closeTo(0, 6), expect.closeTo(600, 6)]);
    expect(top.x + foot.x).toBeCloseTo(840, 6);
  });

  it('moves no further than its edges, and says whether it moved', () => {
    const zoom = zoomed();
    expect(zoom.pan(0, 50)).toBe(false);
    expect(zoom.pan(0, -100)).toBe(true);
    expect(zoom.inFrame({ x: 0, y: 25 }).y).toBeCloseTo(0, 9);
    zoom.pan(0, -1e6);
    expect(zoom.inFrame({ x: 0, y: 297 }).y).toBeCloseTo(600, 9);
  });

  it('grows about its middle and never out of bounds', () => {
    const zoom = zoomed();
    zoom.pan(0, -200);
    const before = zoom.seen;
    zoom.enlarge();
    // The page is laid out anew only once it rests.
    expect(zoom.settled).toBe(4);
    zoom.settle();
    expect([zoom.percent, zoom.settled]).toEqual([125, 5]);
    expect(zoom.seen.y).toBeCloseTo(before.y, 9);
    for (let n = 0; n < 40; n += 1) zoom.enlarge();
    zoom.settle();
    expect(zoom.settled).toBe(40);
    for (let n = 0; n < 80; n += 1) zoom.reduce();
    zoom.settle();
    expect(zoom.settled).toBeCloseTo(600 / 297 / 2, 9);
  });

  it('goes to a point that is out of sight, and leaves alone one that is not', () => {
    const zoom = zoomed();
    zoom.reveal({ x: 100, y: 60 });
    expect(zoom.inFrame({ x: 0, y: 0 }).y).toBe(0);
    zoom.reveal({ x: 100, y: 200 });
    expect(zoom.inFrame({ x: 100, y: 200 }).y).toBeCloseTo(300, 9);
  });

  it('comes close to a place, and stays close to the next one', () => {
    const zoom = zoomed();
    zoom.closeUp({ x: 100, y: 150 }, 70);
    expect(zoom.settled).toBe(12);
    zoom.closeUp({ x: 60, y: 150 }, 140);
    expect(zoom.settled).toBe(12);
    expect(zoom.seen).toEqual({ x: 60, y: 150 });
  });

  it('of another size lies as the one before did: at the same size in millimetres, from the same place', () => {
    const zoom = zoomed();
    zoom.enlarge();
    zoom.pan(0, -200);
    const start = zoom.inFrame({ x: 0, y: 0 });
    zoom.lay({ width: 205, height: 290 });
    expect(zoom.settled).toBe(5);
    expect(zoom.inFrame({ x: 0, y: 0 }).y).toBeCloseTo(start.y, 9);
  });
});

describe('two pages that move together', () => {
  it('have one size in millimetres, and move by as many', () => {
    const [one, other] = [zoomed(), zoomed(undefined, { width: 148, height: 210 })];
    expect(other.settled).not.toBe(one.settled);
    const part = other.join(one);
    expect(other.settled).toBe(4);
    one.enlarge();
    one.settle();
    other.settle();
    expect([one.settled, other.settled]).toEqual([5, 5]);
    one.pan(0, -100);
    other.settle();
    const [here, there] = [one.seen.y, other.seen.y];
    other.pan(0, -50);
    expect([one.seen.y - here, other.seen.y - there]).toEqual([expect.closeTo(10, 9), expect.closeTo(10, 9)]);
    part();
    one.pan(0, 50);
    expect(other.seen.y - there).toBeCloseTo(10, 9);
  });

  it('are both whole when all is shown, the smaller no larger than the other', () => {
    const [one, other] = [zoomed(), zoomed(undefined, { width: 148, height: 210 })];
    other.join(one);
    other.whole();
    expect(one.settled).toBeCloseTo(600 / 297, 9);
    expect(other.settled).toBe(one.settled);
  });
});
