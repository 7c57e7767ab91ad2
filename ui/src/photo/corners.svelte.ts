import type { Corner, Staged } from '../bridge/types';

type Four = [Corner, Corner, Corner, Corner];

/** Clockwise from the sheet's top left, as the program gives them. */
export const CORNER_NAMES = ['topLeft', 'topRight', 'bottomRight', 'bottomLeft'] as const;
export type CornerName = (typeof CORNER_NAMES)[number];

/** Steps as shares of the photograph's longer side: as fine as a pencil line, and as wide as a finger. */
const STEP = { small: 0.002, large: 0.03 };
/** Where the corners begin when no sheet was found. */
const FROM_EDGE = 0.1;

/** The four corners of the sheet in the photograph, while a person puts them right. */
export class Corners {
  readonly width: number;
  readonly height: number;
  at = $state<Four>([
    { x: FROM_EDGE, y: FROM_EDGE },
    { x: 1 - FROM_EDGE, y: FROM_EDGE },
    { x: 1 - FROM_EDGE, y: 1 - FROM_EDGE },
    { x: FROM_EDGE, y: 1 - FROM_EDGE },
  ]);
  chosen = $state<CornerName>('topLeft');
  large = $state(false);
  /** Corners that nobody has shown yet; then each tap goes on to the next. */
  #unshown: number;

  constructor({ photoWidthPx, photoHeightPx, corners }: Pick<Staged, 'photoWidthPx' | 'photoHeightPx' | 'corners'>) {
    this.width = photoWidthPx;
    this.height = photoHeightPx;
    this.#unshown = corners ? 0 : CORNER_NAMES.length;
    if (corners) this.at = corners.map((corner) => ({ ...corner })) as Four;
  }

  get corner(): Corner {
    return this.at[this.#index];
  }

  /** Moves the chosen corner by a step; right and down are positive. */
  move(across: number, down: number): void {
    const step = (this.large ? STEP.large : STEP.small) * Math.max(this.width, this.height);
    const { x, y } = this.corner;
    this.#put({ x: x + (across * step) / this.width, y: y + (down * step) / this.height });
  }

  /** Puts the chosen corner where somebody tapped. */
  tap(corner: Corner): void {
    this.#put(corner);
    if (this.#unshown === 0) return;
    this.#unshown -= 1;
    if (this.#unshown > 0) this.next();
  }

  /** Chooses the next corner, clockwise. */
  next(): void {
    this.chosen = CORNER_NAMES[(this.#index + 1) % CORNER_NAMES.length] ?? this.chosen;
  }

  /** Draws a corner along. */
  drag(name: CornerName, corner: Corner): void {
    this.chosen = name;
    this.#put(corner);
  }

  get #index(): 0 | 1 | 2 | 3 {
    return CORNER_NAMES.indexOf(this.chosen) as 0 | 1 | 2 | 3;
  }

  #put({ x, y }: Corner): void {
    const inside = (share: number) => Math.min(1, Math.max(0, share));
    this.at[this.#index] = { x: inside(x), y: inside(y) };
  }
}
