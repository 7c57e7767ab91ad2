// Made from the Rust types by `cargo xtask bindings`; do not edit by hand.

import type {
  Aspect,
  Day,
  Figure,
  MeasureName,
  Moment,
  PageId,
  Problem,
  PupilId,
  Task,
  TaskId,
  Verdict,
} from '../bridge/types';

/**
 * What comes back.
 */
export type Answer = { 
/**
 * How the visit stands.
 */
pulse: Pulse, 
/**
 * What was asked for; `None` where it came to nothing.
 */
done: unknown, 
/**
 * Why it came to nothing.
 */
problem: Problem | null, };

/**
 * What the page asks.
 */
export type Ask = { "ask": "greet", 
/**
 * 16 random bytes in hexadecimal that stand for this phone.
 */
phone: string, } | { "ask": "look", } | { "ask": "week", } | { "ask": "photo", 
/**
 * Which task it answers, if any.
 */
task: TaskId | null, } | { "ask": "keep", 
/**
 * From [`Looked`].
 */
handle: string, 
/**
 * Though a check failed.
 */
despite: boolean, } | { "ask": "drop", 
/**
 * From [`Looked`].
 */
handle: string, } | { "ask": "result", 
/**
 * From [`Kept`].
 */
page: PageId, };

/**
 * A task of this week.
 */
export type Asked = { 
/**
 * The task.
 */
task: Task, 
/**
 * Whether a page answers it.
 */
answered: boolean, };

/**
 * Why it ended.
 */
export type Ended = "expired" | "wrongKeys";

/**
 * What is worked on, and what the pages of this kind show so far.
 */
export type FocusOutcome = { 
/**
 * The aspect.
 */
aspect: Aspect, 
/**
 * The tutor's sentence; may be empty.
 */
tryThis: string, 
/**
 * Measure by measure, in words.
 */
verdicts: Array<MeasureVerdict>, };

/**
 * The visit has begun.
 */
export type Greeted = { 
/**
 * Its key: 32 bytes in base64url without padding.
 */
key: string, };

/**
 * The page just kept.
 */
export type Kept = { 
/**
 * Its id.
 */
page: PageId, };

/**
 * A photograph that was looked at. Nothing is kept yet.
 */
export type Looked = { 
/**
 * Names it.
 */
handle: string, 
/**
 * Whether it can be read.
 */
fit: boolean, 
/**
 * What to do about each check that failed.
 */
advice: Array<string>, 
/**
 * Width of the flat page that comes with it (JPEG).
 */
widthPx: number, 
/**
 * Its height.
 */
heightPx: number, };

/**
 * What may be said of one measure.
 */
export type MeasureVerdict = { 
/**
 * The measure.
 */
name: MeasureName, 
/**
 * What may be said.
 */
verdict: Verdict, };

/**
 * Nothing to say.
 */
export type Nothing = Record<symbol, never>;

/**
 * What a page shows.
 */
export type Outcome = { 
/**
 * Day it was written.
 */
writtenOn: Day, 
/**
 * What the pages show so far of what is worked on; `None` where there is no focus.
 */
focus: FocusOutcome | null, 
/**
 * The figures of this page. Those of letters and joins wait until the tutor has looked at it.
 */
figures: Array<Figure>, 
/**
 * Whether the text that was set is the one on the page; `None` where that is not known.
 */
textFits: boolean | null, };

/**
 * How the visit stands.
 */
export type Pulse = { 
/**
 * Seconds until it ends if nothing is asked for.
 */
secondsLeft: number, 
/**
 * How often another phone came with the same code.
 */
turnedAway: number, };

/**
 * An address of this computer at which a phone can reach it.
 */
export type Reachable = { 
/**
 * The address.
 */
address: string, 
/**
 * What the system calls the network card.
 */
network: string, };

/**
 * One page served to one phone.
 */
export type Shown = { 
/**
 * For whom.
 */
pupil: PupilId, 
/**
 * Where the phone goes; it works once.
 */
url: string, 
/**
 * The same as a QR picture (SVG).
 */
qrSvg: string, 
/**
 * When it ends if nothing is asked for until then.
 */
expiresAt: Moment, 
/**
 * How far it is.
 */
stage: Stage, 
/**
 * Why it ended; only where it has.
 */
ended: Ended | null, 
/**
 * Pages kept.
 */
pages: number, 
/**
 * How often another phone came with the same code.
 */
turnedAway: number, };

/**
 * How far it is.
 */
export type Stage = "waiting" | "inUse" | "ended";

/**
 * All that a screen needs to offer it.
 */
export type Standing = { 
/**
 * Addresses on private networks; the one with the way to the internet first.
 */
addresses: Array<Reachable>, 
/**
 * What is served now, or was last.
 */
open: Shown | null, };

/**
 * For whom, and where.
 */
export type Wanted = { 
/**
 * The one pupil.
 */
pupil: PupilId, 
/**
 * The one address of this computer; the first of [`addresses`] where none is named.
 */
address: string | null, };

/**
 * What there is to do.
 */
export type Week = { 
/**
 * First name or initials; `None` until the tutor's book has arrived.
 */
name: string | null, 
/**
 * The newest task and those set in the week before it, the newest first.
 */
tasks: Array<Asked>, 
/**
 * The tutor's sentence on what to try; empty where there is none.
 */
tryThis: string, };

/** What each question is answered by. */
export interface Answers {
  greet: Greeted;
  look: Nothing;
  week: Week;
  photo: Looked;
  keep: Kept;
  drop: Nothing;
  result: Outcome;
}
