import { isProblem, Refused } from '../bridge/bridge';
import { FakeBridge } from '../bridge/fake';
import type { Problem, Staged, TakenPhoto, WaitingPhoto } from '../bridge/types';

/** A photograph that was looked at and can be read, for tests. */
export function stagedOf(more: Partial<Staged> = {}): Staged {
  return {
    handle: 'h1',
    task: null,
    kind: 'copied',
    writtenOn: '2026-03-01',
    earlierStays: false,
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

export function waitingOf(handle: string, more: Partial<WaitingPhoto> = {}): WaitingPhoto {
  return { handle, task: null, kind: 'copied', writtenOn: '2026-03-02', since: Date.now(), ...more };
}

/** Photographs that are looked at one after the other. */
export class PhotoBridge extends FakeBridge {
  readonly taken: TakenPhoto[] = [];

  /** What each photograph comes to; a problem where it is refused. */
  constructor(readonly answersTo: (Staged | Problem)[] = []) {
    super();
    this.answers = { drop_photo: {}, keep_page: { page: 'new' }, set_corners: stagedOf({ fit: true }) };
  }

  override async stagePhoto(_: Blob, taken: TakenPhoto): Promise<Staged> {
    this.taken.push(taken);
    const next = this.answersTo.shift();
    if (!next) throw new Error('no further photograph');
    if (isProblem(next)) throw new Refused(next);
    return next;
  }
}

/** As the program has it of a photograph that waits no longer. */
export const GONE: Problem = { code: 'photo-gone', message: 'Program: gone.', whatToDo: 'Program: look.' };
