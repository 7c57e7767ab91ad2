import type { PointMm } from '../bridge/types';
import type { Extent } from './draft';

/** Most pixels on screen for a millimetre. */
const LARGEST = 40;
/** The smallest that a page gets, as a share of the size at which all of it is seen. */
const SMALLEST = 0.5;
const STEP = 1.25;
/** After so long without movement the page is drawn anew at its size. */
const QUIET_MS = 160;
const A4: Extent = { width: 210, height: 297 };

interface Spot {
  clientX: number;
  clientY: number;
}

/**
 * Size and place of a page on screen. While it moves only a transform changes, which costs no drawing; once it rests it
 * is laid out at its size, and what is drawn on it is drawn sharp. It outlives the screen, so that the next page lies
 * as this one does.
 */
export class Zoom {
  /** Pixels on screen for each millimetre, as the page is laid out. */
  settled = $state(1);
  /** 100 is as wide as its frame. Told once the page rests: a figure that changes with every frame is laid out with every frame. */
  percent = $state(100);
  /** Whether part of the page lies outside its frame. */
  larger = $state(false);
  #scale = 1;
  /** The same as `settled`, for itself: what shows the page must not depend on what it brings about. */
  #laid = 1;
  /** The point of the page in the middle of the frame. */
  #middle: PointMm = { x: 0, y: 0 };
  /** What the size follows when the frame changes, until a person chooses another. */
  #fit: 'width' | 'whole' | null = 'width';
  #page: Extent = A4;
  #frame: Extent = { width: 0, height: 0 };
  #parts: { frame: HTMLElement; sheet: HTMLElement } | null = null;
  #waiting: ReturnType<typeof setTimeout> | null = null;
  #drawing = 0;
  /** Another page that moves along. */
  #with: Zoom | null = null;

  /** Says how large the page is. */
  lay(page: Extent): void {
    if (page.width === this.#page.width && page.height === this.#page.height) return;
    const start = this.#start;
    this.#page = page;
    this.#again(start);
  }

  /** Says how much room there is for it, in pixels. */
  room(frame: Extent): void {
    const first = this.#frame.width === 0;
    const start = first ? { x: 0, y: 0 } : this.#start;
    this.#frame = frame;
    this.#again(start);
  }

  /** Shows the page in a frame on screen, for as long as that is there. */
  attach = (frame: HTMLElement): (() => void) => {
    const sheet = frame.querySelector<HTMLElement>('[data-sheet]');
    if (!sheet) throw new Error('there is no sheet in the frame');
    this.#parts = { frame, sheet };
    const watch = new ResizeObserver(() => this.room({ width: frame.clientWidth, height: frame.clientHeight }));
    watch.observe(frame);
    this.room({ width: frame.clientWidth, height: frame.clientHeight });
    return () => {
      watch.disconnect();
      this.#stop();
      this.#parts = null;
    };
  };

  /** Moves together with another page from now on, at the same size in millimetres and from the same place. */
  join(other: Zoom): () => void {
    this.#with = other;
    other.#with = this;
    this.#fit = null;
    this.#to(other.#scale, other.#middle, false);
    this.settle();
    return () => {
      this.#with = null;
      other.#with = null;
    };
  }

  enlarge(): void {
    this.by(STEP);
  }

  reduce(): void {
    this.by(1 / STEP);
  }

  /** All of the page in its frame; of two that move together, all of both. */
  whole(): void {
    const other = this.#with;
    this.#allOf(this.#wholeScale());
    if (other) other.#allOf(this.#scale);
  }

  /** Changes the size so that the point under the spot stays there. */
  by(factor: number, spot: Spot | null = null): void {
    const away = this.#away(spot);
    const scale = this.#bounded(this.#scale * factor);
    const kept = { x: this.#middle.x + away.x / this.#scale, y: this.#middle.y + away.y / this.#scale };
    this.#fit = null;
    this.#to(scale, { x: kept.x - away.x / scale, y: kept.y - away.y / scale });
  }

  /** Moves the page by so many pixels; says whether it moved. */
  pan(x: number, y: number): boolean {
    const before = this.#middle;
    this.#to(this.#scale, { x: before.x - x / this.#scale, y: before.y - y / this.#scale });
    if (this.#middle.x === before.x && this.#middle.y === before.y) return false;
    if (this.#fit === 'whole') this.#fit = null;
    return true;
  }

  /** The point of the page under a point on screen. */
  at(spot: Spot): PointMm {
    const away = this.#away(spot);
    return { x: this.#middle.x + away.x / this.#scale, y: this.#middle.y + away.y / this.#scale };
  }

  /** Where a point of the page is in the frame, in pixels. */
  inFrame({ x, y }: PointMm): PointMm {
    return {
      x: this.#frame.width / 2 + (x - this.#middle.x) * this.#scale,
      y: this.#frame.height / 2 + (y - this.#middle.y) * this.#scale,
    };
  }

  /** The point of the page in the middle of what is seen. */
  get seen(): PointMm {
    return { x: within(this.#middle.x, 0, this.#page.width), y: within(this.#middle.y, 0, this.#page.height) };
  }

  /** Moves the page as far as needed to have a point of it well in sight. */
  reveal(point: PointMm): void {
    const far = (at: number, middle: number, room: number) =>
      Math.abs(at - middle) * this.#scale > 0.4 * room ? at : middle;
    this.#to(this.#scale, {
      x: far(point.x, this.#middle.x, this.#frame.width),
      y: far(point.y, this.#middle.y, this.#frame.height),
    });
    this.settle();
  }

  /** Makes the page so large that no more than a width in mm is seen of it, about a point. */
  closeUp(point: PointMm, width: number): void {
    this.#fit = null;
    this.#to(this.#bounded(Math.max(this.#scale, this.#frame.width / width)), point);
    this.settle();
  }

  /** Lays the page out at its size, once it rests. */
  settle(): void {
    this.#stop();
    this.#laid = this.#scale;
    this.settled = this.#scale;
    this.percent = Math.round((100 * this.#scale) / this.#scaleOf('width'));
    const { width, height } = this.#page;
    const style = this.#parts?.sheet.style;
    if (style) {
      style.width = `${width * this.#laid}px`;
      style.height = `${height * this.#laid}px`;
    }
    // A page that fills its frame exactly has nothing to move, whatever a pixel is rounded to.
    this.larger = width * this.#scale > this.#frame.width + 1 || height * this.#scale > this.#frame.height + 1;
    this.#draw();
  }

  #scaleOf(fit: 'width' | 'whole'): number {
    const byWidth = this.#frame.width / this.#page.width;
    return Math.max(0.01, fit === 'width' ? byWidth : Math.min(byWidth, this.#frame.height / this.#page.height));
  }

  /** The size at which all is seen of this page, and of the one that moves along. */
  #wholeScale(): number {
    const own = this.#scaleOf('whole');
    return this.#with ? Math.min(own, this.#with.#scaleOf('whole')) : own;
  }

  #bounded(scale: number): number {
    return within(scale, SMALLEST * this.#wholeScale(), LARGEST);
  }

  /** The point of the page at the left top of its frame. */
  get #start(): PointMm {
    const { width, height } = this.#frame;
    return { x: this.#middle.x - width / 2 / this.#scale, y: this.#middle.y - height / 2 / this.#scale };
  }

  /** After the frame or the page has another size. What stood at the left top stays there: a panel that opens takes from the foot of the page. */
  #again(start: PointMm): void {
    const { width, height } = this.#frame;
    if (width === 0 || height === 0) return;
    const scale = this.#fit ? this.#scaleOf(this.#fit) : this.#scale;
    this.#to(scale, { x: start.x + width / 2 / scale, y: start.y + height / 2 / scale }, this.#fit !== null);
    this.settle();
    this.#with?.settle();
  }

  #allOf(scale: number): void {
    this.#fit = 'whole';
    this.#to(scale, { x: this.#page.width / 2, y: this.#page.height / 2 }, false);
    this.settle();
  }

  /** From the middle of the frame to a spot on screen, in pixels. */
  #away(spot: Spot | null): PointMm {
    const box = spot && this.#parts?.frame.getBoundingClientRect();
    if (!spot || !box) return { x: 0, y: 0 };
    return { x: spot.clientX - box.left - box.width / 2, y: spot.clientY - box.top - box.height / 2 };
  }

  #to(scale: number, middle: PointMm, led = true): void {
    const [factor, before] = [scale / this.#scale, this.#middle];
    this.#scale = scale;
    const own = (at: number, page: number, frame: number) => {
      const half = frame / 2 / scale;
      // A page smaller than its frame stands in the middle of it.
      return page <= 2 * half ? page / 2 : within(at, half, page - half);
    };
    this.#middle = {
      x: own(middle.x, this.#page.width, this.#frame.width),
      y: own(middle.y, this.#page.height, this.#frame.height),
    };
    this.#soon();
    const other = this.#with;
    if (!led || !other) return;
    // It goes as far in millimetres; where its own edge is nearer, it stops there.
    other.#fit = null;
    const [dx, dy] = [this.#middle.x - before.x, this.#middle.y - before.y];
    other.#to(other.#scale * factor, { x: other.#middle.x + dx, y: other.#middle.y + dy }, false);
  }

  /** Draws with the next frame, and lays out anew after a moment of rest. */
  #soon(): void {
    if (!this.#parts) return;
    if (!this.#drawing) this.#drawing = requestAnimationFrame(() => this.#draw());
    if (this.#waiting) clearTimeout(this.#waiting);
    this.#waiting = setTimeout(() => this.settle(), QUIET_MS);
  }

  #stop(): void {
    if (this.#waiting) clearTimeout(this.#waiting);
    if (this.#drawing) cancelAnimationFrame(this.#drawing);
    this.#waiting = null;
    this.#drawing = 0;
  }

  #draw(): void {
    this.#drawing = 0;
    const style = this.#parts?.sheet.style;
    if (!style) return;
    const origin = this.inFrame({ x: 0, y: 0 });
    if (this.#scale === this.#laid) {
      // At rest on whole pixels, so that it is sharp.
      origin.x = Math.round(origin.x);
      origin.y = Math.round(origin.y);
    }
    style.transform = `translate(${origin.x}px, ${origin.y}px) scale(${this.#scale / this.#laid})`;
  }
}

const within = (value: number, low: number, high: number) => Math.min(high, Math.max(low, value));
