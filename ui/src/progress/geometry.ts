import { scaleLinear, scaleUtc } from 'd3-scale';
import { area, line } from 'd3-shape';
import type { Chart, ChartPoint, Day, Focus, Target, Trend } from '../bridge/types';
import { dateOf } from '../words/format';

export interface Size {
  width: number;
  height: number;
}

/** Room for the labels about the drawing, in px. */
export const MARGIN = { left: 52, right: 14, top: 22, bottom: 26 };
const DAY_MS = 86_400_000;

export interface Drawing {
  points: { point: ChartPoint; x: number; y: number; top: number; bottom: number }[];
  /** Path of the trend; empty with too few pages. */
  trend: string;
  /** Path of the band of noise about the trend; empty with too few pages. */
  band: string;
  focuses: { focus: Focus; x: number; width: number }[];
  /** Heights to compare with, drawn right across. */
  levels: Level[];
  xTicks: { x: number; day: Day }[];
  yTicks: { y: number; value: number }[];
}

export interface Level {
  kind: 'start' | 'target';
  value: number;
  y: number;
  /** Where its name stands, so that two names never lie on each other. */
  labelY: number;
}

/** The target of a chart's measure, if there is one. */
export function targetOf(chart: Chart, targets: readonly Target[]): Target | null {
  return targets.find((target) => target.measure === chart.name) ?? null;
}

/** First and last day over all charts, so that all have the same axis of time. */
export function daysOf(charts: Chart[]): [Day, Day] | null {
  const days = charts.flatMap((chart) => chart.points.map((point) => point.day)).sort();
  const [first, last] = [days[0], days.at(-1)];
  return first !== undefined && last !== undefined ? [first, last] : null;
}

/** Lays one chart out; y grows downwards as on a screen. */
export function draw(chart: Chart, focuses: Focus[], target: Target | null, days: [Day, Day], size: Size): Drawing {
  const x = timeScale(days, size);
  const y = scaleLinear()
    .domain(extentOf(chart, target))
    .nice(4)
    .range([size.height - MARGIN.bottom, MARGIN.top]);
  const at = (day: Day) => x(dateOf(day));
  return {
    points: chart.points.map((point) => ({
      point,
      x: at(point.day),
      y: y(point.value),
      top: y(point.value + point.se),
      bottom: y(point.value - point.se),
    })),
    trend: chart.trend ? trendPath(chart.trend, at, y) : '',
    band: chart.trend && chart.noise !== null ? bandPath(chart.trend, chart.noise, at, y) : '',
    focuses: focuses
      .filter((focus) => focus.aspect === chart.aspect)
      .map((focus) => ({ focus, ...stretch(focus, at, size) }))
      .filter(({ width }) => width > 0),
    levels: levelsOf(chart, target, y),
    xTicks: dayTicks(x, size),
    yTicks: y.ticks(4).map((value) => ({ value, y: y(value) })),
  };
}

function timeScale([first, last]: [Day, Day], size: Size) {
  // One day alone still gets a stretch of time about it.
  const pad = Math.max(DAY_MS, (dateOf(last).getTime() - dateOf(first).getTime()) * 0.03);
  return scaleUtc()
    .domain([new Date(dateOf(first).getTime() - pad), new Date(dateOf(last).getTime() + pad)])
    .range([MARGIN.left, size.width - MARGIN.right]);
}

/** Lowest and highest figure that must be in the picture, doubt and noise included. */
function extentOf(chart: Chart, target: Target | null): [number, number] {
  const values = chart.points.flatMap(({ value, se }) => [value - se, value + se]);
  if (target) values.push(target.value);
  if (chart.start) values.push(chart.start.value);
  if (chart.trend) {
    const noise = chart.noise ?? 0;
    for (const end of [chart.trend.fromValue, chart.trend.toValue]) values.push(end - noise, end + noise);
  }
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return low < high ? [low, high] : [low - 1, high + 1];
}

/** Height of a line of small text, and how far above its line a name stands, in px. */
const LINE = 15;
const LIFT = 5;

function levelsOf(chart: Chart, target: Target | null, y: Up): Level[] {
  const levels: Level[] = [];
  const add = (kind: Level['kind'], value: number) => levels.push({ kind, value, y: y(value), labelY: y(value) - LIFT });
  if (chart.start) add('start', chart.start.value);
  if (target) add('target', target.value);
  const [start, aim] = levels;
  // Close together, the name of the lower line goes below it.
  if (start && aim && Math.abs(start.y - aim.y) < LINE) {
    const lower = start.y > aim.y ? start : aim;
    lower.labelY = lower.y + LINE - 2;
  }
  return levels;
}

type Along = (day: Day) => number;
type Up = (value: number) => number;

function trendPath(trend: Trend, x: Along, y: Up): string {
  const ends: [number, number][] = [
    [x(trend.fromDay), y(trend.fromValue)],
    [x(trend.toDay), y(trend.toValue)],
  ];
  return line()(ends) ?? '';
}

function bandPath(trend: Trend, noise: number, x: Along, y: Up): string {
  const ends = [
    { day: trend.fromDay, value: trend.fromValue },
    { day: trend.toDay, value: trend.toValue },
  ];
  const band = area<(typeof ends)[number]>()
    .x((end) => x(end.day))
    .y0((end) => y(end.value - noise))
    .y1((end) => y(end.value + noise));
  return band(ends) ?? '';
}

function stretch(focus: Focus, x: Along, size: Size): { x: number; width: number } {
  const edge = size.width - MARGIN.right;
  const from = Math.max(MARGIN.left, Math.min(edge, x(focus.from)));
  const to = focus.to === null ? edge : Math.max(MARGIN.left, Math.min(edge, x(focus.to)));
  // A focus of one day is still to be seen.
  return { x: from, width: from < edge ? Math.max(2, to - from) : 0 };
}

function dayTicks(x: ReturnType<typeof timeScale>, size: Size): Drawing['xTicks'] {
  const wanted = Math.max(2, Math.floor((size.width - MARGIN.left - MARGIN.right) / 90));
  const ticks = x.ticks(wanted).map((date) => ({ x: x(date), day: date.toISOString().slice(0, 10) }));
  // On a short stretch several ticks fall on one day.
  return ticks.filter((tick, index) => tick.day !== ticks[index - 1]?.day);
}
