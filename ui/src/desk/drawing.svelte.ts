import type { BoxMm, MarkShape, PointMm } from '../bridge/types';
import { boxOf, type Extent, isDrawn, moved, startShape, type Tool } from './draft';

/** Nearer than this, in mm, a press and its release are a tap and no drag. */
const TAP = 1;
/** Points of a stroke are no nearer than this, in mm. */
const PEN_STEP = 0.4;
const MOST_POINTS = 4000;

/** A shape being drawn on a page: its tool, and how far it has come. */
export class Drawing {
  tool = $state<Tool | null>(null);
  shape = $state.raw<MarkShape | null>(null);
  #pressed: PointMm | null = null;
  #dragged = false;
  /** First corner of a box, or the stroke so far, when it is made by taps. */
  #tapped: PointMm[] = [];

  /** Has it an extent that can be seen? */
  get ready(): boolean {
    return this.shape !== null && isDrawn(this.shape);
  }

  /** Takes up a tool, or lays it down again. */
  choose(tool: Tool, middle: PointMm, page: Extent): void {
    this.#tapped = [];
    this.tool = this.tool === tool ? null : tool;
    this.shape = this.tool ? startShape(tool, middle, page) : null;
  }

  /** Takes up the box with a first place for it. */
  box(bounds: BoxMm): void {
    this.lay();
    this.tool = 'box';
    this.shape = { shape: 'box', bounds };
  }

  lay(): void {
    this.tool = null;
    this.shape = null;
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

