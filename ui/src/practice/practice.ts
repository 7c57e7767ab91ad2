import type { Day, Practised } from '../bridge/types';
import { dateOf } from '../words/format';

const DAY_MS = 86_400_000;

export interface PractisedDay {
  day: Day;
  minutes: number;
}

/** What was practised in one week, Monday to Sunday. Weeks without practice are left out: nothing is counted up. */
export interface PractisedWeek {
  monday: Day;
  minutes: number;
  /** Each day with practice, the first one first. */
  days: PractisedDay[];
}

/** The newest week first. */
export function byWeek(practised: readonly Practised[]): PractisedWeek[] {
  const days = new Map<Day, number>();
  for (const { day, minutes } of practised) days.set(day, (days.get(day) ?? 0) + minutes);
  const weeks = new Map<Day, PractisedWeek>();
  for (const day of [...days.keys()].sort()) {
    const monday = mondayOf(day);
    const week = weeks.get(monday) ?? { monday, minutes: 0, days: [] };
    const minutes = days.get(day) ?? 0;
    week.minutes += minutes;
    week.days.push({ day, minutes });
    weeks.set(monday, week);
  }
  return [...weeks.values()].sort((a, b) => b.monday.localeCompare(a.monday));
}

/** The Monday of a day's week (ISO 8601). */
export function mondayOf(day: Day): Day {
  const date = dateOf(day);
  const back = (date.getUTCDay() + 6) % 7;
  return new Date(date.getTime() - back * DAY_MS).toISOString().slice(0, 10);
}

/** How long a week's bar is against the longest, 0 to 1. */
export function lengthOf(week: PractisedWeek, weeks: readonly PractisedWeek[]): number {
  return week.minutes / Math.max(1, ...weeks.map(({ minutes }) => minutes));
}
