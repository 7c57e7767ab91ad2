import { problemOf } from '../bridge/asked.svelte';
import type { Problem } from '../bridge/types';

/** How long nothing is typed before it is kept. */
export const QUIET_MS = 400;

/** `kept`: all that is typed is kept. `typing`: some is not yet. `failed`: the last attempt went wrong. */
export type Keeping = 'kept' | 'typing' | 'keeping' | 'failed';

/** A text that is kept while it is typed: after a moment of quiet, and on leaving. */
export class KeepingText {
  state = $state<Keeping>('kept');
  problem = $state.raw<Problem | null>(null);
  #text = $state('');
  #kept: string;
  #timer: ReturnType<typeof setTimeout> | null = null;
  #running: Promise<void> | null = null;

  /** `keep` is never called twice at once, so that a later text cannot be overtaken by an earlier one. */
  constructor(
    text: string,
    readonly keep: (text: string) => Promise<void>,
    readonly quietMs = QUIET_MS,
  ) {
    this.#text = text;
    this.#kept = text;
  }

  get text(): string {
    return this.#text;
  }

  set text(text: string) {
    this.#text = text;
    this.#wait();
  }

  /** Shows a text that is kept already. */
  show(text: string): void {
    this.#stop();
    this.#text = text;
    this.#kept = text;
    this.state = 'kept';
  }

  /** Learns what is kept, while something else was typed. */
  known(kept: string): void {
    this.#kept = kept;
    this.#wait();
  }

  /** Keeps at once what is not kept yet; ends when nothing is left to keep, or it went wrong. */
  async now(): Promise<void> {
    this.#stop();
    await (this.#running ??= this.#run().finally(() => (this.#running = null)));
  }

  #wait(): void {
    this.#stop();
    this.state = 'typing';
    this.#timer = setTimeout(() => void this.now(), this.quietMs);
  }

  #stop(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
  }

  async #run(): Promise<void> {
    try {
      while (this.#text !== this.#kept) {
        const text = this.#text;
        this.state = 'keeping';
        await this.keep(text);
        this.#kept = text;
      }
      this.state = 'kept';
      this.problem = null;
    } catch (error) {
      this.state = 'failed';
      this.problem = problemOf(error);
    }
  }
}

/** Keeps what is typed when its screen is left or hidden; returns what ends that. */
export function keepOnLeaving(text: { now: () => Promise<void> }): () => void {
  const hidden = () => {
    if (document.visibilityState === 'hidden') void text.now();
  };
  document.addEventListener('visibilitychange', hidden);
  return () => {
    document.removeEventListener('visibilitychange', hidden);
    void text.now();
  };
}
