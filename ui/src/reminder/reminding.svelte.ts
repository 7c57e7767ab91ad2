import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Lesson, Weekday } from '../bridge/types';
import { clockOf, minuteOf } from '../lessons/lesson';

/** When a reminder begins to be offered: after school, with light on the table. */
const USUAL = '16:30';

/** When this device reminds of the weekly page. */
export class Reminding {
  weekday = $state<Weekday | null>(null);
  /** As a clock shows it: 16:30. */
  time = $state(USUAL);
  readonly doing = new Doing();

  constructor(
    readonly bridge: Bridge,
    at: Lesson | null,
  ) {
    if (at) {
      this.weekday = at.weekday;
      this.time = clockOf(at.minute);
    }
  }

  /** What is chosen; `null` for no reminder, `undefined` where no time can be read. */
  get at(): Lesson | null | undefined {
    if (this.weekday === null) return null;
    const [, hour, minute] = /^(\d\d):(\d\d)/.exec(this.time) ?? [];
    if (hour === undefined || minute === undefined) return undefined;
    return { weekday: this.weekday, minute: minuteOf(Number(hour), Number(minute)) };
  }

  /** Says whether it was set. */
  async set(): Promise<boolean> {
    const { at } = this;
    if (at === undefined) return false;
    return this.doing.run(async () => {
      await this.bridge.call('set_reminder', { at });
    });
  }
}
