import type { Day, Lesson, Weekday } from '../bridge/types';
import { words } from '../words/words';

export const WEEKDAYS: readonly Weekday[] = ['monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday'];
/** Hours in which lessons are given; others can be had too, but nobody has to scroll past them. */
const HOURS = { from: 7, to: 21 };
const MINUTES = Array.from({ length: 12 }, (_, at) => at * 5);
const PER_HOUR = 60;

/** Minutes after midnight as a clock shows them: 15:30. */
export function clockOf(minute: number): string {
  return `${two(Math.floor(minute / PER_HOUR))}:${two(minute % PER_HOUR)}`;
}

/** `Thursdays at 15:30`. */
export function lessonText({ weekday, minute }: Lesson): string {
  return words.lessons.each(words.lessons.weekdays[weekday], clockOf(minute));
}

/** What can be chosen; an hour or a minute that is set already is among it. */
export function choicesFor(minute: number): { hours: number[]; minutes: number[] } {
  const usual = Array.from({ length: HOURS.to - HOURS.from + 1 }, (_, at) => HOURS.from + at);
  return { hours: withOne(usual, Math.floor(minute / PER_HOUR)), minutes: withOne(MINUTES, minute % PER_HOUR) };
}

export function minuteOf(hour: number, minute: number): number {
  return hour * PER_HOUR + minute;
}

export function two(value: number): string {
  return String(value).padStart(2, '0');
}

/** Today, by the clock on the wall here. */
export function dayHere(now = new Date()): Day {
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** Lessons in order of the week; pupils without one stand last. */
export function byLesson(one: Lesson | null, other: Lesson | null): number {
  return place(one) - place(other);
}

function place(lesson: Lesson | null): number {
  return lesson ? WEEKDAYS.indexOf(lesson.weekday) * 24 * PER_HOUR + lesson.minute : Number.MAX_SAFE_INTEGER;
}

function withOne(usual: readonly number[], value: number): number[] {
  return usual.includes(value) ? [...usual] : [...usual, value].sort((a, b) => a - b);
}
