import type { MarkShape, PointMm } from '../bridge/types';
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
  /** The stroke under the pen; it becomes the shape when the pen is lifted, so that nothing is drawn anew with each point. */
  #stroke: PointMm[] = [];
  #pressed: PointMm | null = null;
  #dragged = false;
  /** First corner of a box, or the stroke so far, when it is made by taps. */
  #tapped: PointMm[] = [];

  /** Has it an extent that can be seen? */
  get ready(): boolean {
    return this.shape !== null && isDrawn(this.shape);
  }

  /** The points of the stroke under the pen so far. */
  get stroke(): readonly PointMm[] {
    return this.#stroke;
  }

  /** Takes up a tool, or lays it down again. */
  choose(tool: Tool, middle: PointMm, page: Extent): void {
    this.#tapped = [];
    this.tool = this.tool === tool ? null : tool;
    this.shape = this.tool ? startShape(tool, middle, page) : null;
  }

  /** Takes up a shape as it was drawn before. */
  take(shape: MarkShape): void {
    this.lay();
    this.tool = shape.shape;
    this.shape = shape;
  }

  lay(): void {
    this.tool = null;
    this.shape = null;
    this.#stroke = [];
    this.#tapped = [];
    this.#pressed = null;
  }

  press(at: PointMm): void {
    this.#pressed = at;
    this.#dragged = false;
  }

  /** Goes on through points: as many as the pointer passed since the last time. */
  drag(...points: PointMm[]): void {
    for (const at of points) this.#through(at);
    const [from, to] = [this.#pressed, points.at(-1)];
    if (!from || !to || !this.#dragged) return;
    if (this.tool === 'box') this.shape = { shape: 'box', bounds: boxOf(from, to) };
    else if (this.tool === 'note') this.shape = { shape: 'note', at: to };
  }

  release(at: PointMm): void {
    if (this.#pressed && !this.#dragged) this.#tap(at);
    this.lose();
  }

  /** A second finger or the system took the pointer: what was drawn stays. */
  lose(): void {
    if (this.#stroke.length > 0) this.shape = { shape: 'pen', points: this.#stroke };
    this.#stroke = [];
    this.#pressed = null;
  }

  move(dx: number, dy: number, page: Extent): void {
    if (this.shape) this.shape = moved(this.shape, dx, dy, page);
  }

  #through(at: PointMm): void {
    const from = this.#pressed;
    if (!from) return;
    if (!this.#dragged) {
      if (Math.hypot(at.x - from.x, at.y - from.y) < TAP) return;
      this.#dragged = true;
      this.#tapped = [];
      if (this.tool === 'pen') {
        // The stroke before makes room for this one.
        this.shape = { shape: 'pen', points: [from] };
        this.#stroke = [from];
      }
    }
    if (this.tool === 'pen') this.#append(at);
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
    const last = this.#stroke.at(-1);
    const near = last && Math.hypot(at.x - last.x, at.y - last.y) < PEN_STEP;
    if (!near && this.#stroke.length < MOST_POINTS) this.#stroke.push(at);
  }
}
