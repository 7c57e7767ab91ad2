import type { Day, News, PupilRow } from '../bridge/types';

/** What a tutor can do next for a pupil, the most pressing first. */
export type Act = 'look' | 'task' | 'pair';

/** How the week's task stands. `due`: the one that there is belongs to an earlier week. */
export type TaskState = 'none' | 'due' | 'open' | 'answered';

/** News that fit in a row. */
const MOST_NEWS = 3;

/**
 * A task belongs to the time from one lesson to the next: on the day of a lesson to today, before to the last lesson.
 * Without lessons it is done with once a page answers it.
 */
export function taskState(row: PupilRow, today: Day): TaskState {
  if (!row.task) return 'none';
  const since = row.lessonToday ? today : row.lastLesson;
  if (since !== null ? row.task.setOn < since : row.answered) return 'due';
  return row.answered ? 'answered' : 'open';
}

export function actsOf(row: PupilRow, today: Day): Act[] {
  const acts: Act[] = [];
  if (row.nextUnseen !== null) acts.push('look');
  if (row.profile && ['none', 'due'].includes(taskState(row, today))) acts.push('task');
  if (row.devices === 0) acts.push('pair');
  return acts;
}

/** Whether a family's wish, or the day to erase by, waits for an answer. */
export function askedOf(row: PupilRow): boolean {
  return row.asks > 0 || row.due;
}

const URGENCY: Record<Act, number> = { look: 1, task: 2, pair: 3 };
const NOTHING = 4;

function urgency(row: PupilRow, today: Day): number {
  if (askedOf(row)) return 0;
  // A page on its way in comes where one that came in does.
  if (row.photosWaiting > 0) return URGENCY.look;
  const first = actsOf(row, today)[0];
  return first ? URGENCY[first] : NOTHING;
}

export interface Parted {
  /** Today's lessons, in order of time. */
  lessons: PupilRow[];
  /** The others with whom something waits, by what it is; where it is the same, in the tutor's own order. */
  waiting: PupilRow[];
  /** Those with whom nothing waits, in the tutor's own order. */
  rest: PupilRow[];
}

export function parted(rows: readonly PupilRow[], today: Day): Parted {
  const at = (row: PupilRow) => row.lesson?.minute ?? 0;
  const others = rows.filter((row) => !row.lessonToday);
  return {
    lessons: rows.filter((row) => row.lessonToday).sort((a, b) => at(a) - at(b)),
    waiting: others.filter((row) => urgency(row, today) < NOTHING).sort((a, b) => urgency(a, today) - urgency(b, today)),
    rest: others.filter((row) => urgency(row, today) === NOTHING),
  };
}

/** The row whose new page comes next: by lesson first, then as the list has them. */
export function nextUnseenRow(rows: readonly PupilRow[], today: Day, except?: string): PupilRow | null {
  const { lessons, waiting } = parted(rows, today);
  return [...lessons, ...waiting].find((row) => row.nextUnseen !== null && row.nextUnseen !== except) ?? null;
}

/** What the newest pages say for the first time: as many as fit, and how many more there are. */
export function freshNews(row: PupilRow): { told: News[]; more: number } {
  const fresh = row.news.filter((item) => item.fresh);
  return { told: fresh.slice(0, MOST_NEWS), more: Math.max(0, fresh.length - MOST_NEWS) };
}

/** Rows whose name has what was typed, whatever its accents and capitals. */
export function named(rows: readonly PupilRow[], typed: string): PupilRow[] {
  const wanted = plain(typed);
  return rows.filter((row) => plain(row.profile?.name ?? '').includes(wanted));
}

function plain(text: string): string {
  return text.normalize('NFD').replace(/\p{Mark}/gu, '').trim().toLowerCase();
}
