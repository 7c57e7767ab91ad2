import type { Staged } from '../bridge/types';

/** A photograph that was looked at and can be read, for tests. */
export function stagedOf(more: Partial<Staged> = {}): Staged {
  return {
    handle: 'h1',
    fit: true,
    checks: [],
    widthPx: 100,
    heightPx: 140,
    found: true,
    corners: null,
    photoWidthPx: 1200,
    photoHeightPx: 1600,
    ...more,
  };
}
