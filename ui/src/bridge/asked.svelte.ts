import { type Bridge, type Input, NOT_UNDERSTOOD, type Output, Refused, type Verb } from './bridge';
import type { Event, Problem } from './types';
import { words } from '../words/words';

/** What a failed promise has to say, as a problem. */
export function problemOf(error: unknown): Problem {
  if (error instanceof Refused) return error.problem;
  return { code: NOT_UNDERSTOOD, ...words.problems.notUnderstood };
}

/** A view of the program: asked for at once, and again whenever an event concerns it. */
export class Asked<V extends Verb> {
  value = $state.raw<Output<V> | null>(null);
  problem = $state.raw<Problem | null>(null);
  close: () => void;
  #running = false;
  #again = false;

  constructor(
    readonly bridge: Bridge,
    readonly verb: V,
    readonly input: Input<V>,
    concerns: (event: Event) => boolean,
  ) {
    this.close = bridge.onEvent((event) => {
      if (concerns(event)) void this.ask();
    });
    void this.ask();
  }

  /** Asks again. Calls that come while one runs are answered by one more. */
  async ask(): Promise<void> {
    this.#again = true;
    if (this.#running) return;
    this.#running = true;
    while (this.#again) {
      this.#again = false;
      try {
        this.value = await this.bridge.call(this.verb, this.input);
        this.problem = null;
      } catch (error) {
        this.problem = problemOf(error);
      }
    }
    this.#running = false;
  }
}

/** Events that touch one pupil, or every one. A picture that arrived may be of any of them. */
export function ofPupil(pupil: string): (event: Event) => boolean {
  return (event) =>
    event.event === 'arrived' || (event.event === 'changed' && (event.pupil === null || event.pupil === pupil));
}

/** Whatever may have changed a list: a book, or a meeting of devices. */
export function anyChange(event: Event): boolean {
  return event.event !== 'pairing' && event.event !== 'moving';
}
