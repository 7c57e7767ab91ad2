import type { Chart } from '../bridge/types';

const id = (n: number) => n.toString(16).padStart(32, '0');

/** A chart for tests: three pages of three weeks, better than the noise, without focus or starting point. */
export const sampleChart: Chart = {
  name: 'word_gap',
  aspect: 'gaps',
  unit: 'oWidths',
  kind: 'copied',
  points: [
    { page: id(1), day: '2026-01-01', value: 2, se: 0.1 },
    { page: id(2), day: '2026-01-11', value: 1.5, se: 0.2 },
    { page: id(3), day: '2026-01-21', value: 1, se: 0.1 },
  ],
  trend: { fromDay: '2026-01-01', fromValue: 2, toDay: '2026-01-21', toValue: 1, perWeek: -0.35, low: -0.5, high: -0.2 },
  noise: 0.25,
  verdict: 'better',
  aroundFocuses: [],
  start: null,
};
