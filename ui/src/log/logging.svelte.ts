import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Day, PupilId, TaskId } from '../bridge/types';

/** How long an entry can be taken back with one press, before it goes into the book. */
export const HELD_MS = 8_000;

/** Minutes offered; the task's own stand among them. */
export function offeredMinutes(asked: number | null): number[] {
  return [...new Set([5, 10, 15, 20, ...(asked === null ? [] : [asked])])].sort((one, other) => one - other);
}

export interface Entry {
  day: Day;
  minutes: number;
}

/** Minutes of practice on their way into the book. */
export class Logging {
  minutes = $state<number | null>(null);
  day = $state<Day>('');
  /** What was noted last and can still be taken back. */
  held = $state.raw<Entry | null>(null);
  readonly doing = new Doing();
  #timer: ReturnType<typeof setTimeout> | null = null;

  constructor(
    readonly bridge: Bridge,
    readonly pupil: PupilId,
    readonly task: () => TaskId | null,
    today: Day,
  ) {
    this.day = today;
  }

  get ready(): boolean {
    return this.minutes !== null && this.minutes > 0 && this.day !== '';
  }

  /** Notes what is chosen. It goes into the book after a while, with the next one, or on leaving. */
  async note(): Promise<boolean> {
    const { day, minutes } = this;
    if (!this.ready || minutes === null) return false;
    await this.now();
    // What could not be kept is not forgotten for the sake of the next.
    if (this.held) return false;
    this.held = { day, minutes };
    this.minutes = null;
    this.#timer = setTimeout(() => void this.now(), HELD_MS);
    return true;
  }

  /** Takes back what was noted last. */
  undo(): void {
    this.#stop();
    if (this.held) this.minutes = this.held.minutes;
    this.held = null;
    this.doing.problem = null;
  }

  /** Puts into the book at once what was noted. */
  async now(): Promise<void> {
    this.#stop();
    const { held } = this;
    if (!held) return;
    const kept = await this.doing.run(async () => {
      await this.bridge.call('add_practised', { pupil: this.pupil, ...held, task: this.task() });
    });
    if (kept) this.held = null;
  }

  #stop(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
  }
}
