import { sampleReading } from '../desk/sample';
import { figureOf, profileOf } from '../pupil/sample';
import type { PageView } from '../bridge/types';

const id = (n: number) => n.toString(16).padStart(32, '0');
export const PUPIL = id(1);
export const PAGE = id(2);

/** An open page for tests: measured, its picture here, nothing marked. */
export function pageViewOf(more: Partial<PageView> = {}): PageView {
  const { model, paper, ruling } = profileOf('Ada');
  return {
    pupil: PUPIL,
    record: {
      id: PAGE,
      task: null,
      writtenOn: '2026-03-04',
      kind: 'copied',
      text: null,
      minutes: null,
      paper,
      ruling,
      model,
      picture: id(3),
      addedBy: id(4),
      readings: [],
      lookedAt: null,
    },
    pictureHere: true,
    reading: sampleReading,
    figures: [figureOf({})],
    paceStudy: { source: '', grades: [] },
    marks: [],
    amendments: [],
    starting: false,
    lettersShown: true,
    earlier: null,
    later: null,
    ...more,
  };
}
