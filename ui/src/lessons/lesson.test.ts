import { describe, expect, it } from 'vitest';
import type { Lesson } from '../bridge/types';
import { byLesson, choicesFor, clockOf, dayHere, lessonText, minuteOf } from './lesson';

describe('the time of a lesson', () => {
  it('reads as on a clock', () => {
    expect([0, 5, 545, 930, 1439].map(clockOf)).toEqual(['00:00', '00:05', '09:05', '15:30', '23:59']);
    expect(minuteOf(15, 30)).toBe(930);
  });

  it('says that it is every week', () => {
    expect(lessonText({ weekday: 'thursday', minute: 930 })).toBe('Thursdays at 15:30');
  });

  it('can be chosen in steps of five minutes, and one that is set stays among them', () => {
    expect(choicesFor(930)).toEqual(choicesFor(420));
    const odd = choicesFor(minuteOf(5, 33));
    expect([odd.hours[0], odd.minutes.includes(33), odd.minutes.includes(30)]).toEqual([5, true, true]);
  });

  it('orders the week from Monday, pupils without one last', () => {
    const at = (weekday: Lesson['weekday'], minute: number): Lesson => ({ weekday, minute });
    const week = [null, at('friday', 600), at('monday', 900), at('friday', 540)];
    expect(week.sort(byLesson)).toEqual([at('monday', 900), at('friday', 540), at('friday', 600), null]);
  });
});

describe('today', () => {
  it('is the day on the wall, whatever it is in Greenwich', () => {
    expect(dayHere(new Date(2026, 2, 5, 0, 5))).toBe('2026-03-05');
    expect(dayHere(new Date(2026, 11, 31, 23, 55))).toBe('2026-12-31');
  });
});
