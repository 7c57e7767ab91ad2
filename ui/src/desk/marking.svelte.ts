import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Aspect, MarkId, MarkShape, OfPage, PointMm } from '../bridge/types';
import { boxOf, type Extent, isDrawn, moved, startShape, type Tool } from './draft';

/** Nearer than this, in mm, a press and its release are a tap and no drag. */
const TAP = 1;
/** Points of a stroke are no nearer than this, in mm. */
const PEN_STEP = 0.4;
const MOST_POINTS = 4000;

/** A mark being made: its tool, its shape so far, and what it says. */
export class Marking {
  tool = $state<Tool | null>(null);
  shape = $state.raw<MarkShape | null>(null);
  words = $state('');
  aspect = $state<Aspect | null>(null);
  praise = $state(false);
  readonly doing = new Doing();
  #pressed: PointMm | null = null;
  #dragged = false;
  /** First corner of a box, or the stroke so far, when it is made by taps. */
  #tapped: PointMm[] = [];

  constructor(
    readonly bridge: Bridge,
    readonly where: OfPage,
  ) {}

  /** Can it be put on the page as it is? */
  get ready(): boolean {
    return this.shape !== null && isDrawn(this.shape) && (this.tool !== 'note' || this.words.trim() !== '');
  }

  /** Takes up a tool, or lays it down again. */
  choose(tool: Tool, middle: PointMm, page: Extent): void {
    this.#tapped = [];
    this.tool = this.tool === tool ? null : tool;
    this.shape = this.tool ? startShape(tool, middle, page) : null;
  }

  lay(): void {
    this.tool = null;
    this.shape = null;
    this.words = '';
    this.praise = false;
    this.#tapped = [];
    this.#pressed = null;
  }

  press(at: PointMm): void {
    this.#pressed = at;
    this.#dragged = false;
  }

  drag(at: PointMm): void {
    const from = this.#pressed;
    if (!from) return;
    if (!this.#dragged && Math.hypot(at.x - from.x, at.y - from.y) < TAP) return;
    if (!this.#dragged && this.tool === 'pen') this.shape = { shape: 'pen', points: [from] };
    this.#dragged = true;
    this.#tapped = [];
    if (this.tool === 'box') this.shape = { shape: 'box', bounds: boxOf(from, at) };
    else if (this.tool === 'note') this.shape = { shape: 'note', at };
    else this.#append(at);
  }

  release(at: PointMm): void {
    if (this.#pressed && !this.#dragged) this.#tap(at);
    this.#pressed = null;
  }

  /** A second finger or the system took the pointer: what was drawn stays. */
  lose(): void {
    this.#pressed = null;
  }

  move(dx: number, dy: number, page: Extent): void {
    if (this.shape) this.shape = moved(this.shape, dx, dy, page);
  }

  async put(): Promise<MarkId | null> {
    const shape = this.shape;
    if (!shape) return null;
    let made: MarkId | null = null;
    await this.doing.run(async () => {
      const { words, aspect, praise } = this;
      const input = { ...this.where, shape, words: words.trim(), aspect, praise };
      made = (await this.bridge.call('add_mark', input)).mark;
      this.lay();
    });
    return made;
  }

  async remove(mark: MarkId): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('remove_mark', { pupil: this.where.pupil, mark });
    });
  }

  #tap(at: PointMm): void {
    if (this.tool === 'note') {
      this.shape = { shape: 'note', at };
      return;
    }
    this.#tapped.push(at);
    const [first = at] = this.#tapped;
    if (this.tool === 'pen') {
      this.shape = { shape: 'pen', points: this.#tapped.slice(0, MOST_POINTS) };
    } else {
      this.shape = { shape: 'box', bounds: boxOf(first, at) };
      if (this.#tapped.length > 1) this.#tapped = [];
    }
  }

  #append(at: PointMm): void {
    if (this.shape?.shape !== 'pen') return;
    const { points } = this.shape;
    const last = points.at(-1);
    const near = last && Math.hypot(at.x - last.x, at.y - last.y) < PEN_STEP;
    if (!near && points.length < MOST_POINTS) this.shape = { shape: 'pen', points: [...points, at] };
  }
}

