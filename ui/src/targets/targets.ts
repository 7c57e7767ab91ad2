import type { Figure, MeasureName, ProgressView, Target, Unit } from '../bridge/types';
import { day, measureName, quantity } from '../words/format';
import { words } from '../words/words';

/** Where a measure stands: its unit, and what the newest page of any kind and the starting point say of it. */
export interface Standing {
  measure: MeasureName;
  unit: Unit;
  now: number | null;
  start: number | null;
}

/** One for each measure that can have a target: those of the newest page. */
export function standings(figures: readonly Figure[], progress: ProgressView | null): Standing[] {
  return figures.map(({ name, unit }) => {
    const charts = progress?.charts.filter((chart) => chart.name === name) ?? [];
    const newest = charts.flatMap((chart) => chart.points).sort((a, b) => a.day.localeCompare(b.day)).at(-1);
    return {
      measure: name,
      unit,
      now: newest?.value ?? null,
      start: charts.find((chart) => chart.start !== null)?.start?.value ?? null,
    };
  });
}

/** What a figure is typed as: shares as per cent. */
export function shown(value: number, unit: Unit): number {
  return unit === 'share' ? value * 100 : value;
}

export function meant(typed: number, unit: Unit): number {
  return unit === 'share' ? typed / 100 : typed;
}

/** On which side of one figure another lies, as far as they can be told apart when written. */
export function sideOf(value: number, of: number, unit: Unit): 'above' | 'below' | 'at' {
  if (quantity(value, unit) === quantity(of, unit)) return 'at';
  return value > of ? 'above' : 'below';
}

/** `Space between words: 1.20 o-widths by 30 June 2026.` */
export function targetText({ measure, value, by }: Target, unit: Unit): string {
  const aim = quantity(value, unit);
  return by === null
    ? words.targets.aim(measureName(measure), aim)
    : words.targets.aimBy(measureName(measure), aim, day(by));
}

/** The way meant from the starting point, and where the newest page stands. */
export function wayText({ value }: Pick<Target, 'value'>, { now, start, unit }: Standing): string {
  const t = words.targets;
  const from = start === null ? [] : [t.from[sideOf(value, start, unit)](quantity(start, unit))];
  const stands = now === null ? t.nowNone : t.now(quantity(now, unit), t.sides[sideOf(now, value, unit)]);
  return [...from, stands].join(' ');
}
