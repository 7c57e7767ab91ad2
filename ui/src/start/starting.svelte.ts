import { Doing } from '../bridge/doing.svelte';
import type { Role, Settle } from '../bridge/types';

/** The screens of the first start, in order. Only on the last is anything chosen. */
export const STEPS = ['what', 'where', 'whose'] as const;

/** The first start of a device, from what the program is to whose it is. */
export class Starting {
  #at = $state(0);
  role = $state<Role | null>(null);
  name = $state('');
  readonly doing = new Doing();

  /** `settle` tells the program whose device this is. */
  constructor(readonly settle: (input: Settle) => Promise<void>) {}

  get step(): (typeof STEPS)[number] {
    return STEPS[this.#at] ?? 'whose';
  }

  /** Which step it is, counted from one. */
  get place(): number {
    return this.#at + 1;
  }

  get first(): boolean {
    return this.#at === 0;
  }

  get last(): boolean {
    return this.#at === STEPS.length - 1;
  }

  next(): void {
    if (!this.last) this.#at += 1;
  }

  back(): void {
    if (!this.first) this.#at -= 1;
  }

  /** Goes to where something is to be chosen. */
  skip(): void {
    this.#at = STEPS.length - 1;
  }

  get ready(): boolean {
    return !this.doing.busy && this.role !== null && this.name.trim() !== '';
  }

  /** Says whether it is settled. What was typed stays where it is not. */
  async begin(): Promise<boolean> {
    const { role, name } = this;
    if (!this.ready || role === null) return false;
    return this.doing.run(() => this.settle({ role, name: name.trim() }));
  }
}
