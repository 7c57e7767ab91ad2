import { describe, expect, it } from 'vitest';
import type { Chart, Focus, Target } from '../bridge/types';
import { sampleChart as chart } from './sample';
import { daysOf, draw, MARGIN, targetOf } from './geometry';

const SIZE = { width: 400, height: 200 };
const id = (n: number) => n.toString(16).padStart(32, '0');

const focus = (from: string, to: string | null, aspect: Focus['aspect'] = 'gaps'): Focus => ({ id: id(9), aspect, from, to, tryThis: '' });

const drawn = (focuses: Focus[] = [], one: Chart = chart, target: Target | null = null) =>
  draw(one, focuses, target, daysOf([one]) ?? ['', ''], SIZE);

/** Numbers of an SVG path. */
const numbers = (path: string) => (path.match(/-?\d+(\.\d+)?/g) ?? []).map(Number);

describe('a chart', () => {
  it('puts equal stretches of time equally far apart', () => {
    const [a, b, c] = drawn().points.map(({ x }) => x);
    expect((b ?? 0) - (a ?? 0)).toBeCloseTo((c ?? 0) - (b ?? 0), 6);
  });

  it('puts higher values higher and makes bars as long as the doubt', () => {
    const { points } = drawn();
    expect(points[0]?.y).toBeLessThan(points[1]?.y ?? 0);
    const length = (index: number) => (points[index]?.bottom ?? 0) - (points[index]?.top ?? 0);
    expect(length(1)).toBeCloseTo(2 * length(0), 6);
  });

  it('stays within its margins, bars and band included', () => {
    const { points, band } = drawn();
    const ys = [...points.flatMap(({ top, bottom }) => [top, bottom]), ...numbers(band).filter((_, i) => i % 2 === 1)];
    expect(Math.min(...ys)).toBeGreaterThanOrEqual(MARGIN.top);
    expect(Math.max(...ys)).toBeLessThanOrEqual(SIZE.height - MARGIN.bottom);
  });

  it('runs the trend through its ends and the band at equal distance on both sides', () => {
    const { trend, band, points } = drawn();
    expect(numbers(trend)[1]).toBeCloseTo(points[0]?.y ?? 0, 2);
    // Along the upper edge, then back along the lower one.
    const [, upperStart = 0, , , , , , lowerStart = 0] = numbers(band);
    expect((upperStart + lowerStart) / 2).toBeCloseTo(numbers(trend)[1] ?? 0, 2);
  });

  it('draws neither trend nor band with too few pages', () => {
    const few = { ...chart, points: chart.points.slice(0, 1), trend: null, noise: null };
    const { trend, band, points } = drawn([], few);
    expect([trend, band]).toEqual(['', '']);
    expect(points[0]?.x).toBeGreaterThan(MARGIN.left);
  });

  it('names no day twice on its axis', () => {
    const short = { ...chart, points: chart.points.slice(0, 1), trend: null, noise: null };
    const days = drawn([], short).xTicks.map((tick) => tick.day);
    expect(new Set(days).size).toBe(days.length);
  });
});

describe('focus periods', () => {
  it('stand only on charts of their aspect', () => {
    expect(drawn([focus('2026-01-05', null, 'slant')]).focuses).toEqual([]);
  });

  it('an open one reaches to the edge, an ended one to its day', () => {
    const open = drawn([focus('2026-01-11', null)]).focuses[0];
    expect((open?.x ?? 0) + (open?.width ?? 0)).toBeCloseTo(SIZE.width - MARGIN.right, 6);
    const ended = drawn([focus('2026-01-01', '2026-01-11')]).focuses[0];
    expect((ended?.x ?? 0) + (ended?.width ?? 0)).toBeCloseTo(drawn().points[1]?.x ?? 0, 6);
  });

  it('one from before the first page is cut at the edge', () => {
    const early = drawn([focus('2025-01-01', '2026-01-11')]).focuses[0];
    expect(early?.x).toBe(MARGIN.left);
  });

  it('one that starts after the last page is left out', () => {
    expect(drawn([focus('2027-01-01', null)]).focuses).toEqual([]);
  });
});

describe('what a chart is compared with', () => {
  const aim = (value: number): Target => ({ measure: 'word_gap', value, by: null });
  const started = (value: number): Chart => ({ ...chart, start: { value, se: 0.1, pages: 3 } });

  it('is drawn on the same scale as the points, and within the picture', () => {
    const { levels, points } = drawn([], started(2), aim(0.2));
    expect(levels.map(({ kind }) => kind)).toEqual(['start', 'target']);
    expect(levels[0]?.y).toBeCloseTo(points[0]?.y ?? 0, 6);
    expect(levels[1]?.y).toBeGreaterThan(points[2]?.y ?? 0);
    expect(levels[1]?.y).toBeLessThanOrEqual(SIZE.height - MARGIN.bottom);
  });

  it('is nothing where nothing is set', () => {
    expect(drawn().levels).toEqual([]);
  });

  it('has names that do not lie on each other', () => {
    for (const [start, target] of [[1.5, 1.5], [1.5, 1.52], [1.52, 1.5], [2, 1]] as const) {
      const [one, other] = drawn([], started(start), aim(target)).levels;
      expect(Math.abs((one?.labelY ?? 0) - (other?.labelY ?? 0)), `${start} ${target}`).toBeGreaterThanOrEqual(15);
    }
  });

  it('is the target of its own measure', () => {
    expect(targetOf(chart, [{ measure: 'slant', value: 1, by: null }, aim(1.2)])).toEqual(aim(1.2));
    expect(targetOf(chart, [])).toBe(null);
  });
});

describe('the axis of time', () => {
  it('is the same for all charts', () => {
    const later = { ...chart, points: [{ page: id(5), day: '2026-05-01', value: 1, se: 0.1 }] };
    expect(daysOf([chart, later])).toEqual(['2026-01-01', '2026-05-01']);
    expect(daysOf([])).toBeNull();
  });
});
