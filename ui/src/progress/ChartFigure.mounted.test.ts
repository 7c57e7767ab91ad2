import { describe, expect, it } from 'vitest';
import type { Chart, Target } from '../bridge/types';
import { show, textOf } from '../testing/mounted';
import ChartFigure from './ChartFigure.svelte';
import { sampleChart } from './sample';

const id = (n: number) => n.toString(16).padStart(32, '0');
const days = ['2026-01-01', '2026-01-21'] as [string, string];
const target: Target = { measure: 'word_gap', value: 0.5, by: '2026-06-30' };
const chart: Chart = { ...sampleChart, start: { value: 1.75, se: 0.25, pages: 2 } };

const figure = (given: Partial<Chart> = {}, aim: Target | null = null) =>
  show(ChartFigure, { chart: { ...chart, ...given }, focuses: [], target: aim, days });

describe('a chart', () => {
  it('is told by one sentence in place of its picture', async () => {
    const screen = await figure({}, target);
    screen.one(
      'img',
      '3 pages, 1 January 2026 to 21 January 2026. Better, by more than the ordinary up and down. ' +
        'Starting point: 1.75 ± 0.25 o-widths, mean of 2 pages. Target: 0.50 o-widths by 30 June 2026.',
    );
    expect(screen.texts('heading')).toEqual(['Space between words, copied']);
  });

  it('has every figure in the table behind it, target and starting point first', async () => {
    const screen = await figure({}, target);
    expect(screen.rows()).toEqual([
      ['Day', 'Value', 'Doubt ±'],
      ['target', '0.50 o-widths'],
      ['starting point', '1.75 o-widths', '0.25 o-widths'],
      ['1 January 2026', '2.00 o-widths', '0.10 o-widths'],
      ['11 January 2026', '1.50 o-widths', '0.20 o-widths'],
      ['21 January 2026', '1.00 o-widths', '0.10 o-widths'],
    ]);
  });

  it('names the head of each column and of each row', async () => {
    const screen = await figure({}, target);
    expect(screen.texts('columnheader')).toEqual(['Day', 'Value', 'Doubt ±']);
    expect(screen.all('rowheader')).toHaveLength(5);
  });

  it('has nothing to compare with where nothing was set', async () => {
    const screen = await figure({ start: null });
    expect(screen.rows()).toHaveLength(4);
    expect(screen.all('list')).toEqual([]);
  });

  it('says the trend with its interval, and no more than that', async () => {
    const screen = await figure();
    expect(textOf(screen.root)).toContain('Trend −0.35 o-widths a week (95 % interval −0.5 to −0.2).');
    const without = await figure({ trend: null });
    expect(textOf(without.root)).not.toContain('Trend');
  });

  it('of one page draws nothing and says its figure', async () => {
    const screen = await figure({ points: chart.points.slice(0, 1), trend: null, noise: null, verdict: 'tooFewPages', start: null });
    expect(screen.all('img')).toEqual([]);
    expect(textOf(screen.root)).toContain('One page so far: 2.00 ± 0.10 o-widths.');
    expect(screen.rows()).toHaveLength(2);
  });

  it('sets pages in a focus beside those before it', async () => {
    const around = { focus: id(9), from: '2026-01-11', larger: 0.25, before: 2, during: 4 };
    const screen = await figure({ aroundFocuses: [around] });
    expect(textOf(screen.root)).toContain(
      'Focus from 11 January 2026: taking each of 2 pages before with each of 4 pages in it, ' +
        'the later value is the larger one in 25 % of pairs; 50 % would be no difference.',
    );
  });
});
