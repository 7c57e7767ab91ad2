import type { PointMm } from '../bridge/types';
import type { Zoom } from './zoom.svelte';

/** Width of the stroke under the pen, in pixels. */
const WIDTH = 3;

/** Draws the stroke under the pen: only what is new of it, so that it keeps up however long the stroke has become. */
export class Ink {
  #canvas: HTMLCanvasElement | null = null;
  #pen: CanvasRenderingContext2D | null = null;
  #drawn = 0;

  constructor(readonly zoom: Zoom) {}

  attach = (canvas: HTMLCanvasElement): (() => void) => {
    this.#canvas = canvas;
    // Shown without waiting for the rest of the page, where the system can do so.
    this.#pen = canvas.getContext('2d', { desynchronized: true });
    const watch = new ResizeObserver(() => this.clear());
    watch.observe(canvas);
    return () => {
      watch.disconnect();
      this.#canvas = null;
      this.#pen = null;
    };
  };

  /** Draws what a stroke has become since the last time. */
  goOn(stroke: readonly PointMm[]): void {
    const pen = this.#pen;
    if (!pen || stroke.length - this.#drawn < 1) return;
    pen.beginPath();
    for (const at of stroke.slice(Math.max(0, this.#drawn - 1))) {
      const { x, y } = this.zoom.inFrame(at);
      pen.lineTo(x, y);
    }
    pen.stroke();
    this.#drawn = stroke.length;
  }

  /** Wipes it off, and fits it to its place. */
  clear(): void {
    const [canvas, pen] = [this.#canvas, this.#pen];
    this.#drawn = 0;
    if (!canvas || !pen) return;
    const sharp = window.devicePixelRatio || 1;
    canvas.width = Math.round(canvas.clientWidth * sharp);
    canvas.height = Math.round(canvas.clientHeight * sharp);
    pen.scale(sharp, sharp);
    pen.lineWidth = WIDTH;
    pen.lineCap = 'round';
    pen.lineJoin = 'round';
    pen.strokeStyle = getComputedStyle(canvas).color;
  }
}
