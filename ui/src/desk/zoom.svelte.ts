import { flushSync } from 'svelte';
import type { PointMm } from '../bridge/types';

const SMALLEST = 0.2;
const LARGEST = 8;
const STEP = 1.25;

interface Spot {
  clientX: number;
  clientY: number;
}

/** Size of the page on screen, and what moves it. 1 is as wide as its frame; moving is plain scrolling. */
export class Zoom {
  scale = $state(1);
  #scroller: HTMLElement | null = null;
  #sheet: HTMLElement | null = null;
  #pinch: { distance: number; scale: number } | null = null;

  /** Takes over the wheel with the control key, and two fingers, on a scrolling frame. */
  attach = (scroller: HTMLElement): (() => void) => {
    this.#scroller = scroller;
    this.#sheet = scroller.querySelector('[data-sheet]');
    const ends = new AbortController();
    const options = { passive: false, signal: ends.signal };
    scroller.addEventListener('wheel', (event) => this.#wheel(event), options);
    scroller.addEventListener('touchstart', (event) => this.#fingers(event), options);
    scroller.addEventListener('touchmove', (event) => this.#fingers(event), options);
    scroller.addEventListener('touchend', () => (this.#pinch = null), options);
    return () => ends.abort();
  };

  larger(): void {
    this.#to(this.scale * STEP, this.#middle());
  }

  smaller(): void {
    this.#to(this.scale / STEP, this.#middle());
  }

  /** The whole page in its frame. */
  whole(): void {
    const { scroller, sheet } = this.#parts();
    // The frame is no higher than the page, so its full height shows only at full width.
    this.scale = 1;
    flushSync();
    this.scale = Math.max(SMALLEST, Math.min(1, scroller.clientHeight / sheet.clientHeight));
    scroller.scrollTo(0, 0);
  }

  /** The point of the page in the middle of what is seen, as shares of its width and height. */
  seenMiddle(): PointMm {
    const { clientX, clientY } = this.#middle();
    return this.shareAt(clientX, clientY);
  }

  /** A point on screen as shares of the page's width and height. */
  shareAt(clientX: number, clientY: number): PointMm {
    const box = this.#parts().sheet.getBoundingClientRect();
    const share = (at: number, from: number, length: number) => Math.min(1, Math.max(0, (at - from) / length));
    return { x: share(clientX, box.left, box.width), y: share(clientY, box.top, box.height) };
  }

  /** Scrolls as far as needed to have a point of the page, as shares of its width and height, well in sight. */
  reveal({ x, y }: PointMm): void {
    const { scroller, sheet } = this.#parts();
    const [frame, box] = [scroller.getBoundingClientRect(), sheet.getBoundingClientRect()];
    const away = (at: number, from: number, length: number) =>
      Math.abs(at - from - length / 2) > 0.4 * length ? at - from - length / 2 : 0;
    scroller.scrollLeft += away(box.left + x * box.width, frame.left, frame.width);
    scroller.scrollTop += away(box.top + y * box.height, frame.top, frame.height);
  }

  /** Makes the page so large that no more than a share of its width is seen, about a point given as shares. */
  closeUp(point: PointMm, share: number): void {
    this.scale = Math.min(LARGEST, Math.max(this.scale, 1 / share));
    flushSync();
    this.reveal(point);
  }

  #parts(): { scroller: HTMLElement; sheet: HTMLElement } {
    const [scroller, sheet] = [this.#scroller, this.#sheet];
    if (!scroller || !sheet) throw new Error('the page is not on screen');
    return { scroller, sheet };
  }

  #middle(): Spot {
    const box = this.#parts().scroller.getBoundingClientRect();
    return { clientX: box.left + box.width / 2, clientY: box.top + box.height / 2 };
  }

  /** Changes the size so that the point under the spot stays there. */
  #to(scale: number, spot: Spot): void {
    const { scroller, sheet } = this.#parts();
    const kept = this.shareAt(spot.clientX, spot.clientY);
    this.scale = Math.min(LARGEST, Math.max(SMALLEST, scale));
    flushSync();
    const box = sheet.getBoundingClientRect();
    scroller.scrollLeft += box.left + kept.x * box.width - spot.clientX;
    scroller.scrollTop += box.top + kept.y * box.height - spot.clientY;
  }

  #wheel(event: WheelEvent): void {
    if (!event.ctrlKey) return;
    event.preventDefault();
    this.#to(this.scale * Math.exp(-event.deltaY / 300), event);
  }

  #fingers(event: TouchEvent): void {
    const [one, two] = [event.touches[0], event.touches[1]];
    if (!one || !two) return;
    event.preventDefault();
    const distance = Math.hypot(one.clientX - two.clientX, one.clientY - two.clientY);
    this.#pinch ??= { distance, scale: this.scale };
    const spot = { clientX: (one.clientX + two.clientX) / 2, clientY: (one.clientY + two.clientY) / 2 };
    this.#to((this.#pinch.scale * distance) / Math.max(1, this.#pinch.distance), spot);
  }
}
