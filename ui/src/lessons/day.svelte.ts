import type { Day } from '../bridge/types';
import { dayHere } from './lesson';

/** How often it is looked whether the day is still the same. */
const LOOK_MS = 30_000;

/** Today, on a screen that may stay open over night. */
export class DayOnScreen {
  day = $state<Day>(dayHere());
  #timer: ReturnType<typeof setInterval>;

  /** `changed` is told of each new day. */
  constructor(readonly changed: () => void) {
    this.#timer = setInterval(() => this.#look(), LOOK_MS);
  }

  close(): void {
    clearInterval(this.#timer);
  }

  #look(): void {
    const day = dayHere();
    if (day === this.day) return;
    this.day = day;
    this.changed();
  }
}
