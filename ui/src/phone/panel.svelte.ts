import { Doing } from '../bridge/doing.svelte';
import type { PupilId } from '../bridge/types';
import type { PhoneBridge } from './bridge';
import type { Standing } from './types';

/** How often an open page is asked how it stands: nothing tells of it. */
const EVERY_MS = 2000;

/** The page for a phone, as this computer's screen opens and closes it. */
export class Panel {
  standing = $state.raw<Standing | null>(null);
  address = $state<string | null>(null);
  readonly doing = new Doing();
  #timer: ReturnType<typeof setInterval> | null = null;

  constructor(
    readonly bridge: PhoneBridge,
    readonly pupil: () => PupilId,
  ) {}

  /** What is open for this pupil, or was last. */
  get shown() {
    const open = this.standing?.open ?? null;
    return open?.pupil === this.pupil() ? open : null;
  }

  /** Whether it is open for another pupil. */
  get elsewhere(): boolean {
    const open = this.standing?.open ?? null;
    return open !== null && open.pupil !== this.pupil() && open.stage !== 'ended';
  }

  async ask(): Promise<void> {
    await this.doing.run(async () => this.#take(await this.bridge.standing()));
  }

  async open(): Promise<void> {
    const wanted = { pupil: this.pupil(), address: this.address };
    await this.doing.run(async () => this.#take(await this.bridge.open(wanted)));
  }

  async close(): Promise<void> {
    await this.doing.run(async () => this.#take(await this.bridge.close()));
  }

  /** Ends the asking; what is open stays open. */
  leave(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
  }

  #take(standing: Standing): void {
    this.standing = standing;
    const known = standing.addresses.some((one) => one.address === this.address);
    if (!known) this.address = standing.addresses[0]?.address ?? null;
    const alive = standing.open !== null && standing.open.stage !== 'ended';
    if (!alive) this.leave();
    else this.#timer ??= setInterval(() => void this.#follow(), EVERY_MS);
  }

  async #follow(): Promise<void> {
    if (this.doing.busy) return;
    // A look that fails says nothing; the next one may not.
    const standing = await this.bridge.standing().catch(() => null);
    if (standing && this.#timer !== null && !this.doing.busy) this.#take(standing);
  }
}
