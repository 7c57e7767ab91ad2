import type { Aspect, Day, Figure, MeasureName, Moment, Ruling, Unit } from '../bridge/types';
import { words } from './words';

/** The eight aspects in the order in which they are always shown. */
export const ASPECTS: readonly Aspect[] = [
  'baseline',
  'xHeight',
  'reach',
  'form',
  'joins',
  'gaps',
  'slant',
  'corrections',
];

/** Numbers and days are written as the language of the catalogue writes them. */
const LOCALE = words.locale;
const MOST_DECIMALS = 3;
const DECIMALS: Record<Unit, number> = {
  mm: 2,
  degrees: 1,
  ratio: 2,
  share: 0,
  oWidths: 2,
  percentPer100Mm: 1,
  per100Words: 1,
  lettersPerMinute: 0,
};

/** Decimals that a unit is written with, and more where the doubt would otherwise read as nought. */
function decimals(unit: Unit, doubt: number | null): number {
  if (doubt === null || doubt <= 0) return DECIMALS[unit];
  const first = -Math.floor(Math.log10(unit === 'share' ? doubt * 100 : doubt));
  return Math.max(DECIMALS[unit], Math.min(MOST_DECIMALS, first));
}

/** A number as written, without its unit; shares become per cent. */
export function number(value: number, unit: Unit, doubt: number | null = null): string {
  const shown = unit === 'share' ? value * 100 : value;
  const digits = decimals(unit, doubt);
  const text = shown.toLocaleString(LOCALE, {
    minimumFractionDigits: digits,
    maximumFractionDigits: digits,
    signDisplay: 'negative',
  });
  return text.replace('-', '−');
}

/** A change with its sign, to two significant figures: changes a week are small. */
export function change(value: number, unit: Unit): string {
  const shown = unit === 'share' ? value * 100 : value;
  return shown.toLocaleString(LOCALE, { maximumSignificantDigits: 2, signDisplay: 'exceptZero' }).replace('-', '−');
}

/** A number with its unit. */
export function quantity(value: number, unit: Unit, doubt: number | null = null): string {
  return words.units[unit](number(value, unit, doubt));
}

/** A number with one decimal, where it stands beside a place and there is no room for more. */
export function rough(value: number): string {
  return value.toLocaleString(LOCALE, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
}

/** A number with its doubt and unit. */
export function withDoubt(value: number, se: number, unit: Unit): string {
  return words.units[unit](words.plusMinus(number(value, unit, se), number(se, unit, se)));
}

/** What a figure says, or why there is none. */
export function figureText(figure: Figure): string {
  if (figure.value !== null && figure.se !== null) return withDoubt(figure.value, figure.se, figure.unit);
  if (figure.value !== null) return quantity(figure.value, figure.unit);
  return words.notMeasured(words.whyNot[figure.because ?? 'needsText']);
}

export function measureName(name: MeasureName): string {
  return words.measures[name].name;
}

/** Length in millimetres for a sentence: 8, 6.35. */
export function mm(value: number): string {
  return value.toLocaleString(LOCALE, { maximumFractionDigits: 2 });
}

/** `2026-03-04` → 4 March 2026. */
export function day(value: Day): string {
  return dateOf(value).toLocaleDateString(LOCALE, { day: 'numeric', month: 'long', year: 'numeric', timeZone: 'UTC' });
}

/** `2026-03-04` → 4 Mar. */
export function shortDay(value: Day): string {
  return dateOf(value).toLocaleDateString(LOCALE, { day: 'numeric', month: 'short', timeZone: 'UTC' });
}

/** `2026-03-05` → Thursday 5 March. */
export function weekdayAndDay(value: Day): string {
  return dateOf(value).toLocaleDateString(LOCALE, { weekday: 'long', day: 'numeric', month: 'long', timeZone: 'UTC' });
}

export function dateOf(value: Day): Date {
  return new Date(`${value}T00:00:00Z`);
}

export function dayOfMoment(value: Moment): string {
  return new Date(value).toLocaleDateString(LOCALE, { day: 'numeric', month: 'long', year: 'numeric' });
}

export function clock(value: Moment): string {
  return new Date(value).toLocaleTimeString(LOCALE, { timeStyle: 'short' });
}

/** When something last happened: the nearer, the more exact. */
export function when(value: Moment, now: Moment = Date.now()): string {
  const days = Math.round((midnight(now) - midnight(value)) / DAY_MS);
  if (days === 0) return words.general.today(clock(value));
  if (days === 1) return words.general.yesterday(clock(value));
  // A clock that is ahead, or a long time ago: then only the day itself says something.
  return days > 1 && days < 7 ? words.general.daysAgo(days) : words.general.onDay(dayOfMoment(value));
}

const DAY_MS = 86_400_000;

/** The beginning of a moment's day, here. */
function midnight(value: Moment): number {
  return new Date(value).setHours(0, 0, 0, 0);
}

/** A number of bytes as systems write it: powers of ten (IEC 80000-13). */
export function bytes(value: number): string {
  const kilo = value / 1000;
  const write = (count: number, digits: number) => count.toLocaleString(LOCALE, { maximumFractionDigits: digits });
  // From here on it would be written as a thousand kilobytes.
  if (kilo >= 999.5) return words.general.bytes.MB(write(kilo / 1000, kilo < 99_950 ? 1 : 0));
  return words.general.bytes.kB(write(value > 0 ? Math.max(1, kilo) : 0, 0));
}

export function ruling(value: Ruling): string {
  switch (value.kind) {
    case 'plain':
      return words.rulings.plain;
    case 'lines':
      return words.rulings.lines(mm(value.pitch));
    case 'squares':
      return words.rulings.squares(mm(value.side), value.every);
    case 'fourLine':
      return words.rulings.fourLine(mm(value.pitch), mm(value.inner));
  }
}
