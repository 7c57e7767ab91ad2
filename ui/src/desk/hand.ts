// What fingers, mouse and wheel do on a page: draw where there is a tool, else move it, make it larger and smaller, or
// tap a place. Everything here has another way: keys, buttons and fields.
import type { PointMm } from '../bridge/types';
import type { Zoom } from './zoom.svelte';

/** What the hand holds and whom it tells. */
export interface Holding {
  /** What draws, while it has a tool. */
  draws: () => boolean;
  press: (at: PointMm) => void;
  drag: (points: PointMm[]) => void;
  release: (at: PointMm) => void;
  lose: () => void;
  /** A tap: where, and within how many millimetres it may have been meant. */
  tap: (at: PointMm, reach: number) => void;
  /** Whether the wheel always moves the page, even where it has come to its edge. */
  contains: boolean;
}

/** Further than this, in pixels, a press was no tap. */
const STILL = 6;
/** As far as a finger misses, in pixels. */
const FINGER = 10;
/** Pixels of a wheel that counts in lines. */
const LINE = 32;

type Spot = Pick<PointerEvent, 'clientX' | 'clientY'>;

export class Hand {
  #pointers = new Map<number, Spot>();
  #does: 'nothing' | 'presses' | 'draws' | 'pans' | 'pinches' = 'nothing';
  #from: Spot = { clientX: 0, clientY: 0 };
  #space = false;

  constructor(
    readonly zoom: Zoom,
    readonly holding: Holding,
  ) {}

  attach = (frame: HTMLElement): (() => void) => {
    const ends = new AbortController();
    const { signal } = ends;
    const hear = <K extends keyof HTMLElementEventMap>(name: K, act: (event: HTMLElementEventMap[K]) => void) =>
      frame.addEventListener(name, act, { passive: false, signal });
    hear('wheel', (event) => this.#wheel(event));
    hear('pointerdown', (event) => this.#down(event, frame));
    hear('pointermove', (event) => this.#move(event));
    hear('pointerup', (event) => this.#up(event));
    hear('pointercancel', (event) => this.#gone(event));
    // Else the middle button would begin to scroll by itself.
    hear('mousedown', (event) => event.button === 1 && event.preventDefault());
    const space = (event: KeyboardEvent) => {
      const free = document.activeElement === frame || document.activeElement === document.body;
      if (event.key !== ' ' || !free) return;
      event.preventDefault();
      this.#space = event.type === 'keydown';
      frame.toggleAttribute('data-space', this.#space);
    };
    window.addEventListener('keydown', space, { signal });
    window.addEventListener('keyup', space, { signal });
    return () => ends.abort();
  };

  #down(event: PointerEvent, frame: HTMLElement): void {
    if (event.button > 1) return;
    if ((event.target as Element).closest('button, a')) return;
    this.#pointers.set(event.pointerId, event);
    try {
      frame.setPointerCapture(event.pointerId);
    } catch {
      // A pointer that is gone again already needs no capture.
    }
    frame.focus({ preventScroll: true });
    if (this.#pointers.size > 1) {
      if (this.#does === 'draws') this.holding.lose();
      this.#does = 'pinches';
    } else if (this.holding.draws() && event.button === 0 && !this.#space) {
      event.preventDefault();
      this.#does = 'draws';
      this.holding.press(this.zoom.at(event));
    } else {
      this.#does = 'presses';
      this.#from = event;
    }
  }

  #move(event: PointerEvent): void {
    const last = this.#pointers.get(event.pointerId);
    if (!last) return;
    switch (this.#does) {
      case 'draws': {
        // A fast pointer passes more points than are told one by one.
        const all = event.getCoalescedEvents?.() ?? [];
        this.holding.drag((all.length > 0 ? all : [event]).map((one) => this.zoom.at(one)));
        break;
      }
      case 'presses':
        if (apart(event, this.#from) <= STILL) return;
        this.#does = 'pans';
        this.zoom.pan(event.clientX - this.#from.clientX, event.clientY - this.#from.clientY);
        break;
      case 'pans':
        this.zoom.pan(event.clientX - last.clientX, event.clientY - last.clientY);
        break;
      case 'pinches':
        this.#pinch(event);
        break;
      case 'nothing':
        return;
    }
    this.#pointers.set(event.pointerId, event);
  }

  #pinch(event: PointerEvent): void {
    const [id, other] = [...this.#pointers].find(([one]) => one !== event.pointerId) ?? [];
    const last = this.#pointers.get(event.pointerId);
    if (id === undefined || !other || !last) return;
    const [before, after] = [middleOf(last, other), middleOf(event, other)];
    this.zoom.by(apart(event, other) / Math.max(1, apart(last, other)), before);
    this.zoom.pan(after.clientX - before.clientX, after.clientY - before.clientY);
  }

  #up(event: PointerEvent): void {
    if (!this.#pointers.delete(event.pointerId)) return;
    const at = this.zoom.at(event);
    if (this.#does === 'draws') this.holding.release(at);
    else if (this.#does === 'presses' && event.button === 0) this.holding.tap(at, FINGER / this.zoom.settled);
    this.#rest();
  }

  #gone(event: PointerEvent): void {
    if (!this.#pointers.delete(event.pointerId)) return;
    if (this.#does === 'draws') this.holding.lose();
    this.#rest();
  }

  /** With one finger left of two the page goes on moving; it is no tap any more. */
  #rest(): void {
    this.#does = this.#pointers.size === 0 ? 'nothing' : 'pans';
  }

  #wheel(event: WheelEvent): void {
    const pixels = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? LINE : 1;
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      this.zoom.by(Math.exp((-event.deltaY * pixels) / 300), event);
      return;
    }
    const sideways = event.shiftKey && event.deltaX === 0;
    const [x, y] = sideways ? [event.deltaY, 0] : [event.deltaX, event.deltaY];
    if (this.zoom.pan(-x * pixels, -y * pixels) || this.holding.contains) event.preventDefault();
  }
}

const apart = (one: Spot, other: Spot) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);

const middleOf = (one: Spot, other: Spot): Spot => ({
  clientX: (one.clientX + other.clientX) / 2,
  clientY: (one.clientY + other.clientY) / 2,
});
