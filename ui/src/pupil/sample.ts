import type { Figure, PageRow, Profile, PupilRow, PupilView, Task } from '../bridge/types';

const id = (n: number) => n.toString(16).padStart(32, '0');
let made = 0;

export function profileOf(name: string): Profile {
  return {
    name,
    year: 3,
    hand: 'right',
    model: { name: 'Unjoined', letters: [] },
    paper: 'a4',
    ruling: { kind: 'lines', pitch: 8 },
  };
}

/** A row of the list of pupils for tests: no page, no task, one paired device. */
export function rowOf(more: Partial<PupilRow>, name = 'Ada'): PupilRow {
  return {
    pupil: id((made += 1)),
    profile: profileOf(name),
    pages: 0,
    lastPage: null,
    nextUnseen: null,
    unseen: 0,
    focus: null,
    task: null,
    answered: false,
    devices: 1,
    asks: 0,
    deleteBy: null,
    due: false,
    news: [],
    lesson: null,
    lastLesson: null,
    lessonToday: false,
    came: 0,
    photosWaiting: 0,
    ...more,
  };
}

/** A pupil for tests, of whom nothing has come yet. */
export function viewOf(more: Partial<PupilView> = {}, name = 'Ada'): PupilView {
  return {
    pupil: id((made += 1)),
    profile: profileOf(name),
    tasks: [],
    pages: [],
    focuses: [],
    lettersAllowed: false,
    newer: false,
    ...more,
  };
}

export function taskOf(more: Partial<Task>): Task {
  return {
    id: id(1),
    setOn: '2026-03-05',
    kind: 'copied',
    text: ['The hens', 'are out.'],
    paper: 'a4',
    ruling: { kind: 'lines', pitch: 8 },
    minutes: 15,
    focus: null,
    ...more,
  };
}

/** A page of the list for tests. */
export function pageOf(more: Partial<PageRow>): PageRow {
  return {
    page: id((made += 1)),
    task: null,
    writtenOn: '2026-03-01',
    kind: 'copied',
    picture: null,
    marks: 0,
    lookedAt: true,
    figures: [],
    starting: false,
    withTutor: null,
    ...more,
  };
}

export function figureOf(more: Partial<Figure>): Figure {
  return {
    name: 'word_gap',
    aspect: 'gaps',
    unit: 'oWidths',
    value: 1.6,
    se: 0.1,
    spread: null,
    n: 20,
    because: null,
    before: null,
    byHand: false,
    ...more,
  };
}
