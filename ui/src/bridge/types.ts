// Made from the Rust types by `cargo xtask bindings`; do not edit by hand.

/** Most whole minutes that writing a page takes. */
export const MAX_MINUTES = 240;

/** Confidence from which a letter is sure: less sure ones count in no figure. */
export const SURE = 0.5;

/** Least share, of what two boxes cover together, that makes them the same place. */
export const SAME_PLACE = 0.3;

/**
 * Puts a mark on a page.
 */
export type AddMark = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * A box, a stroke of the pen, or only words at a place.
 */
shape: MarkShape, 
/**
 * The sentence with it; a note needs one.
 */
words: string, 
/**
 * The aspect it speaks of.
 */
aspect: Aspect | null, 
/**
 * Whether it praises.
 */
praise: boolean, };

/**
 * Notes practice that was done.
 */
export type AddPractised = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The day; today where not said.
 */
day: Day | null, 
/**
 * Whole minutes.
 */
minutes: number, 
/**
 * The task, if it was one.
 */
task: TaskId | null, };

/**
 * Adds a pupil to the tutor's list.
 */
export type AddPupil = { 
/**
 * What is kept of the pupil.
 */
profile: Profile, };

/**
 * Answers a page or a mark.
 */
export type AddReply = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The page.
 */
page: PageId, 
/**
 * The mark, if it answers one.
 */
mark: MarkId | null, 
/**
 * The words.
 */
words: string, };

/**
 * Notes how the child sat.
 */
export type AddSetUp = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * What was as it should be.
 */
fine: Array<SetUpItem>, 
/**
 * What was not yet.
 */
notYet: Array<SetUpItem>, };

/**
 * The pupil just added.
 */
export type AddedPupil = { 
/**
 * Its id.
 */
pupil: PupilId, };

/**
 * Says whether the family sees letter findings before the tutor has looked.
 */
export type AllowLetters = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Whether it does.
 */
allowed: boolean, };

/**
 * Puts something right on a page; the page is measured again with it. Tutor only.
 */
export type Amend = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * What is so.
 */
what: Amendment, };

/**
 * What was put right.
 */
export type Amended = { 
/**
 * Its id.
 */
amendment: AmendmentId, };

/**
 * One thing put right. It names its letter by place and character, and all else by place, not by number, so
 * that it holds for every later reading of the page.
 */
export type Amendment = { "about": "letter", 
/**
 * Which letter of the text: the engine's place for it, or where it was expected.
 */
at: BoxMm, 
/**
 * The letter.
 */
letter: string, 
/**
 * Where its ink is; `None` where no ink is this letter, which then counts nowhere.
 */
bounds: BoxMm | null, } | { "about": "fault", 
/**
 * The letter's place.
 */
at: BoxMm, 
/**
 * The letter.
 */
letter: string, 
/**
 * The fault.
 */
fault: FaultKind, 
/**
 * Whether it is there.
 */
there: boolean, } | { "about": "reads", 
/**
 * The letter's place.
 */
at: BoxMm, 
/**
 * The letter.
 */
letter: string, 
/**
 * Whether a person reads it as the letter meant.
 */
asMeant: boolean, } | { "about": "join", 
/**
 * The place of the letter that the join begins at.
 */
at: BoxMm, 
/**
 * That letter.
 */
letter: string, 
/**
 * How it is joined.
 */
verdict: JoinVerdict, } | { "about": "correction", 
/**
 * Where.
 */
at: BoxMm, 
/**
 * How.
 */
kind: CorrectionKind | null, } | { "about": "notWriting", 
/**
 * Where.
 */
at: BoxMm, } | { "about": "line", 
/**
 * Round its writing.
 */
at: BoxMm, };

/**
 * One thing that a person put right in a reading.
 */
export type AmendmentId = string;

/**
 * Something put right, as kept in the tutor's book.
 */
export type AmendmentRecord = { 
/**
 * Its id.
 */
id: AmendmentId, 
/**
 * The page it is on.
 */
page: PageId, 
/**
 * What it says.
 */
what: Amendment, 
/**
 * When it was made; of two about the same, the later holds.
 */
madeAt: Moment, 
/**
 * Who made it.
 */
by: DeviceId, };

/**
 * Pages of a focus period against the pages before it.
 */
export type AroundFocus = { 
/**
 * Which period.
 */
focus: FocusId, 
/**
 * Its first day.
 */
from: Day, 
/**
 * Share of pairs, a page before and a page in it, whose later value is larger; ties count
 * half.
 */
larger: number, 
/**
 * Pages before.
 */
before: number, 
/**
 * Pages in it.
 */
during: number, };

/**
 * A family's wish that something be forgotten.
 */
export type Ask = { 
/**
 * Its id.
 */
id: AskId, 
/**
 * What.
 */
wish: AskedFor, 
/**
 * When it was asked.
 */
madeAt: Moment, 
/**
 * Who asked.
 */
by: DeviceId, };

/**
 * One wish that something be forgotten.
 */
export type AskId = string;

/**
 * Asks the tutor to forget something.
 */
export type AskToForget = { 
/**
 * Of which pupil.
 */
pupil: PupilId, 
/**
 * What.
 */
wish: AskedFor, };

/**
 * What a family asks the tutor to forget.
 */
export type AskedFor = { "what": "page", 
/**
 * The page.
 */
page: PageId, } | { "what": "everything" };

/**
 * One of the eight things that a page is read for.
 */
export type Aspect = "baseline" | "xHeight" | "reach" | "form" | "joins" | "gaps" | "slant" | "corrections";

/**
 * What the measures of one aspect say together, one task kind.
 */
export type AspectVerdict = { 
/**
 * Which aspect.
 */
aspect: Aspect, 
/**
 * Task kind.
 */
kind: TaskKind, 
/**
 * Better or worse where some measure says so and none the opposite; changed where they differ.
 */
verdict: Verdict, 
/**
 * Pages that the fullest of its measures rests on.
 */
pages: number, };

/**
 * Writes all that this device holds into one encrypted file.
 */
export type BackUp = { 
/**
 * Where; nothing may be there yet.
 */
path: string, 
/**
 * What opens it.
 */
passphrase: string, };

/**
 * A backup, as written or as checked.
 */
export type BackedUp = { 
/**
 * Changes in it.
 */
changes: number, 
/**
 * Pictures and whole readings in it.
 */
blobs: number, 
/**
 * Size of the file in bytes.
 */
bytes: number, };

/**
 * A blob: the BLAKE3 hash of its bytes.
 */
export type BlobId = string;

/**
 * The round part of a letter.
 */
export type Bowl = { 
/**
 * Whether it is left open.
 */
open: boolean, 
/**
 * How dark its ring is at the lightest place: 1 as its strokes, 0 as the paper.
 */
ring: Ratio, };

/**
 * An upright box on the flat sheet.
 */
export type BoxMm = { 
/**
 * Left edge.
 */
x0: Mm, 
/**
 * Top edge.
 */
y0: Mm, 
/**
 * Right edge.
 */
x1: Mm, 
/**
 * Bottom edge.
 */
y1: Mm, };

/**
 * Brings a backup into a device that is nobody's yet.
 */
export type BringBack = { 
/**
 * Where the backup is.
 */
path: string, 
/**
 * What opens it.
 */
passphrase: string, };

/**
 * One carry file.
 */
export type CarryFile = { 
/**
 * A name for it that tells nothing of the pupil.
 */
name: string, 
/**
 * Its bytes, base64 (RFC 4648).
 */
base64: string, };

/**
 * Carry files that were made.
 */
export type CarryMade = { 
/**
 * In the order in which they are best sent; any order will do.
 */
files: Array<CarryFile>, };

/**
 * What a carry file brought.
 */
export type CarryOpened = { 
/**
 * The device that made it.
 */
from: DeviceId, 
/**
 * The pupil.
 */
pupil: PupilId, 
/**
 * Which of several it is, from 1.
 */
part: number, 
/**
 * How many there are.
 */
parts: number, 
/**
 * Changes that were new.
 */
newChanges: number, 
/**
 * Changes that were refused.
 */
refusedChanges: number, 
/**
 * Pictures and whole readings that were new.
 */
newBlobs: number, 
/**
 * Whether something in it rests on what has not come yet: another file, or an earlier one.
 */
waits: boolean, };

/**
 * Alters a mark that is there; answers to it stay with it.
 */
export type ChangeMark = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
mark: MarkId, 
/**
 * A box, a stroke of the pen, or only words at a place.
 */
shape: MarkShape, 
/**
 * The sentence with it; a note needs one.
 */
words: string, 
/**
 * The aspect it speaks of.
 */
aspect: Aspect | null, 
/**
 * Whether it praises.
 */
praise: boolean, };

/**
 * Changes what is kept of a pupil.
 */
export type ChangePupil = { 
/**
 * Which.
 */
pupil: PupilId, 
/**
 * All of it, as it shall be.
 */
profile: Profile, };

/**
 * One measure over time, one task kind.
 */
export type Chart = { 
/**
 * Which measure.
 */
name: MeasureName, 
/**
 * The aspect it speaks for; `None` for pace.
 */
aspect: Aspect | null, 
/**
 * Unit.
 */
unit: Unit, 
/**
 * Task kind; kinds are never mixed.
 */
kind: TaskKind, 
/**
 * Pages, oldest first.
 */
points: Array<ChartPoint>, 
/**
 * The starting point; `None` where no page stands for it.
 */
start: ChartStart | null, 
/**
 * Theil-Sen trend; `None` with too few pages.
 */
trend: Trend | null, 
/**
 * Page-to-page noise about the trend, in the unit; `None` with too few pages.
 */
noise: number | null, 
/**
 * What may be said.
 */
verdict: Verdict, 
/**
 * Focus periods of its aspect with pages enough, oldest first: a description, no verdict.
 */
aroundFocuses: Array<AroundFocus>, };

/**
 * One page on a chart.
 */
export type ChartPoint = { 
/**
 * Which page.
 */
page: PageId, 
/**
 * Day it was written.
 */
day: Day, 
/**
 * Value.
 */
value: number, 
/**
 * Standard error of measuring that page.
 */
se: number, };

/**
 * The pages that stand as the starting point, in one measure and task kind.
 */
export type ChartStart = { 
/**
 * Their mean.
 */
value: number, 
/**
 * Its standard error, from how the pages differ; for one page, from measuring it.
 */
se: number, 
/**
 * How many they are.
 */
pages: number, };

/**
 * Says whether both devices show the same words.
 */
export type ConfirmPairing = { 
/**
 * Whether they do.
 */
same: boolean, };

/**
 * What a copy of all of a pupil lacks where it is made.
 */
export type CopyLacks = { 
/**
 * Pages of which the picture or the letters are not on this device.
 */
pages: number, 
/**
 * Something was written by a newer version of the program.
 */
newer: boolean, };

/**
 * A corner of the sheet in the photograph.
 */
export type Corner = { 
/**
 * From the left, as a share of the photograph's width.
 */
x: number, 
/**
 * From the top, as a share of its height.
 */
y: number, };

/**
 * A correction found on the page.
 */
export type Correction = { 
/**
 * How it was done.
 */
kind: CorrectionKind, 
/**
 * All ink of the word and of the mark over it.
 */
bounds: BoxMm, 
/**
 * Whether a person said so.
 */
byHand: boolean, };

/**
 * How a mistake was put right.
 */
export type CorrectionKind = "struckOnce" | "struckManyTimes" | "writtenOver" | "bracketed";

/**
 * Part of a kept page picture, in its pixels.
 */
export type Crop = { 
/**
 * The picture.
 */
of: BlobId, 
/**
 * Left edge.
 */
x: number, 
/**
 * Top edge.
 */
y: number, 
/**
 * Width.
 */
width: number, 
/**
 * Height.
 */
height: number, };

/**
 * A calendar day: days since 1970-01-01, written `YYYY-MM-DD`.
 */
export type Day = string;

/**
 * Degrees. Slant: from upright, positive leans forward. Drift: positive climbs.
 */
export type Degrees = number;

/**
 * A device: its Ed25519 public key.
 */
export type DeviceId = string;

/**
 * The other devices.
 */
export type DeviceList = { 
/**
 * Those that belong, the tutor's first; then those that were removed.
 */
devices: Array<DeviceRow>, };

/**
 * Another device.
 */
export type DeviceRow = { 
/**
 * Its key.
 */
device: DeviceId, 
/**
 * Its name; empty where nobody said one.
 */
name: string, 
/**
 * Whose it is.
 */
role: Role, 
/**
 * The pupils to which it belongs.
 */
pupils: Array<PupilId>, 
/**
 * When the two last met.
 */
lastMet: Moment | null, 
/**
 * Where it was last reached.
 */
addresses: Array<string>, 
/**
 * Whether it was removed.
 */
removed: boolean, };

/**
 * Half-typed words.
 */
export type Draft = { 
/**
 * The words; `None` where there are none.
 */
text: string | null, };

/**
 * Takes back practice that was noted by a slip.
 */
export type DropPractised = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
practised: PractisedId, };

/**
 * Takes a target away.
 */
export type DropTarget = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Of which measure.
 */
measure: MeasureName, };

/**
 * Ends a focus period.
 */
export type EndFocus = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
focus: FocusId, 
/**
 * Last day; today where not said.
 */
on: Day | null, };

/**
 * What a screen hears; it then asks for its view again.
 */
export type Event = { "event": "changed", 
/**
 * Whose; `None` when the list itself changed.
 */
pupil: PupilId | null, } | { "event": "arrived", } | { "event": "moving", 
/**
 * The other device.
 */
device: DeviceId, 
/**
 * Bytes received.
 */
received: number, 
/**
 * Bytes received and still to come, as far as is known.
 */
toReceive: number | null, 
/**
 * Bytes sent.
 */
sent: number, } | { "event": "pairing", } | { "event": "met", 
/**
 * The other device.
 */
device: DeviceId, 
/**
 * Whether it ended well.
 */
ok: boolean, };

/**
 * Meets one device, or all known ones.
 */
export type Exchange = { 
/**
 * Which; all where not said.
 */
device: DeviceId | null, };

/**
 * How meetings went.
 */
export type Exchanged = { 
/**
 * One a device.
 */
meetings: Array<Meeting>, };

/**
 * Where a letter is left towards the next.
 */
export type Exit = "bottom" | "top" | "none";

/**
 * Corrections of the engine as training data, without names: opt-in, pupil by pupil.
 */
export type ExportAmendments = { 
/**
 * The pupils whose families agreed.
 */
pupils: Array<PupilId>, };

/**
 * One thing amiss with a letter's form.
 */
export type Fault = { 
/**
 * What.
 */
kind: FaultKind, 
/**
 * Its figure, as the kind says; `None` where a person saw it.
 */
figure: Ratio | null, };

/**
 * What can be amiss with a letter's form.
 */
export type FaultKind = "open" | "eyeClosed" | "reversed" | "apart" | "noDot" | "noBar" | "notTall" | "notBelow" | "highBowl" | "readsAsOther";

/**
 * One measure as shown: a figure, or the reason why there is none.
 */
export type Figure = { 
/**
 * Which measure.
 */
name: MeasureName, 
/**
 * The aspect it speaks for; `None` for pace.
 */
aspect: Aspect | null, 
/**
 * Unit.
 */
unit: Unit, 
/**
 * Value; `None` where not measured.
 */
value: number | null, 
/**
 * Standard error of measuring this page.
 */
se: number | null, 
/**
 * How much the letters or words differ.
 */
spread: number | null, 
/**
 * How many it rests on.
 */
n: number | null, 
/**
 * Why it was not measured.
 */
because: WhyNot | null, 
/**
 * Value on the page before of the same task kind, where both are measured.
 */
before: number | null, 
/**
 * Whether it rests on something that a person put right.
 */
byHand: boolean, };

/**
 * Asks for every instance of a letter or word.
 */
export type FindLetters = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * One letter, or a word.
 */
text: string, };

/**
 * One check of fitness and what to do about it.
 */
export type FitAdvice = { 
/**
 * One plain sentence for the parent; empty where the check passed.
 */
advice: string, 
/**
 * What was checked.
 */
fault: FitFault, 
/**
 * The figure, on the check's own scale.
 */
figure: number, 
/**
 * The limit that the figure is held against.
 */
limit: number, 
/**
 * Whether the page passed.
 */
passed: boolean, };

/**
 * One check of fitness: the figure, its limit, and whether it passed.
 */
export type FitCheck = { 
/**
 * What was checked.
 */
fault: FitFault, 
/**
 * The figure, on the check's own scale.
 */
figure: number, 
/**
 * The limit that the figure is held against.
 */
limit: number, 
/**
 * Whether the page passed.
 */
passed: boolean, };

/**
 * One thing that can make a photograph unreadable.
 */
export type FitFault = "blur" | "shadow" | "glare" | "tooSmall" | "cutOff" | "tooDark" | "blank";

/**
 * Whether a photograph can be read.
 */
export type Fitness = { 
/**
 * Every check made, passed or not.
 */
checks: Array<FitCheck>, };

/**
 * A period in which one aspect is worked on.
 */
export type Focus = { 
/**
 * Its id.
 */
id: FocusId, 
/**
 * The aspect.
 */
aspect: Aspect, 
/**
 * First day.
 */
from: Day, 
/**
 * Last day; `None` while it goes on.
 */
to: Day | null, 
/**
 * The tutor's own sentence on what to try; may be empty.
 */
tryThis: string, };

/**
 * One focus period.
 */
export type FocusId = string;

/**
 * The focus just begun.
 */
export type FocusStarted = { 
/**
 * Its id.
 */
focus: FocusId, };

/**
 * Forgets whatever was written, set or practised before a day.
 */
export type ForgetBefore = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The first day that stays.
 */
day: Day, };

/**
 * Forgets pages with all that belongs to them.
 */
export type ForgetPages = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
pages: Array<PageId>, };

/**
 * How the flat sheet lies in the photograph.
 */
export type Frame = { 
/**
 * Width of the sheet.
 */
width: Mm, 
/**
 * Height of the sheet.
 */
height: Mm, 
/**
 * Pixels of the kept page picture for each millimetre.
 */
pxPerMm: number, 
/**
 * Where the sheet is seen in the upright photograph; `None` once only the page picture is
 * kept.
 */
toPhoto: Mesh | null, 
/**
 * Where the scale came from.
 */
scaleSource: ScaleSource, 
/**
 * Relative standard error of the scale (0.004 = 0.4 %).
 */
scaleSe: Ratio, };

/**
 * A size of school furniture by EN 1729-1.
 */
export type Furniture = { 
/**
 * The standard's size mark, 1 to 6.
 */
mark: number, 
/**
 * For children from this height.
 */
heightFrom: Mm, 
/**
 * For children to this height.
 */
heightTo: Mm, 
/**
 * Height of the seat.
 */
seat: Mm, 
/**
 * Height of the table top.
 */
table: Mm, };

/**
 * A child's height, to look up seat and table; never kept.
 */
export type FurnitureFor = { 
/**
 * The height in millimetres, without shoes.
 */
heightMm: Mm, };

/**
 * Sizes that fit.
 */
export type FurnitureSizes = { 
/**
 * From the smallest; none for a height outside the table.
 */
sizes: Array<Furniture>, };

/**
 * Mean letters a minute of one grade.
 */
export type GradePace = { 
/**
 * Grade of the schools in the study.
 */
grade: number, 
/**
 * Girls.
 */
girls: number, 
/**
 * Boys.
 */
boys: number, };

/**
 * The hand that holds the pencil.
 */
export type Hand = "left" | "right";

/**
 * What another device is known to hold of one pupil.
 */
export type Held = { 
/**
 * Which.
 */
pupil: PupilId, 
/**
 * Pages whose picture it is known to hold.
 */
pages: number, 
/**
 * Pages that are here.
 */
of: number, };

/**
 * What another device is known to hold.
 */
export type Holding = { 
/**
 * Of the pupils that it shares.
 */
pupils: Array<Held>, };

/**
 * What happened at home, and what is aimed at.
 */
export type HomeView = { 
/**
 * Practice, the newest first.
 */
practised: Array<Practised>, 
/**
 * Looks at how the child sat, the newest first.
 */
setups: Array<SetUpCheck>, 
/**
 * Replies, the oldest first.
 */
replies: Array<Reply>, 
/**
 * Targets.
 */
targets: Array<Target>, 
/**
 * The tutor's private note; never on a parent's device.
 */
note: string | null, };

/**
 * One letter or word on a page.
 */
export type Instance = { 
/**
 * Where it is.
 */
at: BoxMm, 
/**
 * Its picture.
 */
crop: Crop, 
/**
 * What is amiss with its form; empty for a word.
 */
faults: Array<FaultKind>, 
/**
 * Whether the engine, or a person, is sure of it.
 */
sure: boolean, };

/**
 * A join that the hand which is taught expects.
 */
export type Join = { 
/**
 * Index of the letter that it begins at, into the reading's letters; the next letter is the one
 * that it leads to.
 */
left: number, 
/**
 * How it is joined.
 */
verdict: JoinVerdict, 
/**
 * Its lowest place above the baseline, in x-heights; `None` where nothing leads across.
 */
height: Ratio | null, 
/**
 * Whether a person said so.
 */
byHand: boolean, };

/**
 * Takes up a pairing text.
 */
export type JoinPairing = { 
/**
 * The text that the other device shows.
 */
code: string, 
/**
 * The key on paper, where a tutor comes back by it.
 */
paperKey: string | null, };

/**
 * How a letter is joined to the next.
 */
export type JoinVerdict = "joined" | "missing" | "wrongHeight";

/**
 * Keeps half-typed words on this device.
 */
export type KeepDraft = { 
/**
 * What they are for; ids in it stand between slashes, so that they go with what they name.
 */
key: string, 
/**
 * The words; empty to let them go.
 */
text: string, };

/**
 * Keeps a staged photograph: it is measured and goes into the book.
 */
export type KeepPage = { 
/**
 * From [`Staged`].
 */
handle: string, 
/**
 * Keep it though a check failed.
 */
despite: boolean, };

/**
 * How long a pupil is kept, how much there is, and who wishes what.
 */
export type KeepingView = { 
/**
 * The day by which everything is to be erased.
 */
deleteBy: Day | null, 
/**
 * Whether that day has come.
 */
due: boolean, 
/**
 * Wishes that something be forgotten, the oldest first.
 */
asks: Array<Ask>, 
/**
 * Bytes of the books with their history.
 */
historyBytes: number, 
/**
 * Day of the oldest page.
 */
oldestPage: Day | null, 
/**
 * What a copy of everything made here would lack.
 */
lacks: CopyLacks, };

/**
 * The page just kept.
 */
export type KeptPage = { 
/**
 * Its id.
 */
page: PageId, };

/**
 * A weekly moment: a lesson, or a reminder.
 */
export type Lesson = { 
/**
 * The day.
 */
weekday: Weekday, 
/**
 * Minutes after midnight, 0 to 1,439, by the clock on the wall.
 */
minute: number, };

/**
 * A letter, or the piece of ink that stands where one is expected.
 */
export type Letter = { 
/**
 * Index into the reading's lines.
 */
line: number, 
/**
 * Index into the reading's words.
 */
word: number, 
/**
 * Its ink; the dot of an i is not height.
 */
bounds: BoxMm, 
/**
 * Its dot, or all marks above it.
 */
dot: BoxMm | null, 
/**
 * Height class.
 */
class: LetterClass, 
/**
 * The letter as known from the text; `None` where it is not known.
 */
char: string | null, 
/**
 * 0 to 1: how sure the engine is that this ink is this letter.
 */
confidence: Ratio, 
/**
 * Lean of its downstroke where it has a measurable one.
 */
slant: Degrees | null, 
/**
 * Where it stands: the baseline under its middle. `None` in readings before engine 0.3.
 */
foot: PointMm | null, 
/**
 * Top of its body above that: of a tall letter the round or arched part, of others their ink.
 * `None` where it has no body, or it could not be told.
 */
body: Mm | null, 
/**
 * Whether its bowl is closed; `None` for a letter without one and where that cannot be seen.
 */
bowl: Bowl | null, 
/**
 * What its shape reads as; `None` where nothing may be said of it.
 */
reads: Reads | null, 
/**
 * What is amiss with its form.
 */
faults: Array<Fault>, 
/**
 * Whether a person put its place or a finding about it right.
 */
byHand: boolean, };

/**
 * The height class of a letter.
 */
export type LetterClass = "short" | "tall" | "tail" | "other";

/**
 * How one small letter is taught.
 */
export type LetterForm = { 
/**
 * The letter, a to z.
 */
letter: string, 
/**
 * Its height class.
 */
class: LetterClass, 
/**
 * How far it rises above the baseline, in x-heights; 1 for a short letter.
 */
above: Ratio, 
/**
 * How far it falls below the baseline, in x-heights; 0 where it stands on it.
 */
below: Ratio, 
/**
 * Where it is left.
 */
exit: Exit, 
/**
 * The letters it is joined to; empty where it is not joined on.
 */
joinsTo: string, 
/**
 * Whether its tall or low part is a loop.
 */
looped: boolean, 
/**
 * One or two storeys; only *a* and *g* have a choice.
 */
storeys: Storeys, };

/**
 * The letters of one school: every small letter once.
 *
 * Classes, reaches, exits and the letters that are left unjoined are common practice, with no single
 * source; they differ from school to school, and a tutor can change each of them.
 */
export type LetterModel = { 
/**
 * What the tutor calls it.
 */
name: string, 
/**
 * a to z, in this order.
 */
letters: Array<LetterForm>, };

/**
 * A letter model as read.
 */
export type LetterModelRead = { 
/**
 * The model.
 */
model: LetterModel, };

/**
 * The letter models to start from.
 */
export type LetterModels = { 
/**
 * Unjoined, part joined, joined.
 */
models: Array<LetterModel>, };

/**
 * A letter or word through the weeks.
 */
export type LettersFound = { 
/**
 * As asked for.
 */
text: string, 
/**
 * Pages on which it was found, oldest first.
 */
pages: Array<LettersOfPage>, 
/**
 * Letters and words that the pupil's pages have most, for choosing: most first.
 */
often: Array<string>, };

/**
 * What one page has of it.
 */
export type LettersOfPage = { 
/**
 * Which page.
 */
page: PageId, 
/**
 * Day it was written.
 */
writtenOn: Day, 
/**
 * How the text came about.
 */
kind: TaskKind, 
/**
 * In the order of reading; at most 12.
 */
found: Array<Instance>, 
/**
 * How many the page has beyond these.
 */
more: number, };

/**
 * A line of writing.
 */
export type Line = { 
/**
 * All ink of the line.
 */
bounds: BoxMm, 
/**
 * Where the letters stand, left to right.
 */
baseline: Array<PointMm>, 
/**
 * Top of the short letters above the baseline; `None` where there are too few.
 */
xHeight: Mm | null, 
/**
 * Slope against the ruling, + climbs; `None` on a short line.
 */
drift: Degrees | null, };

/**
 * Makes carry files about a pupil: for all other devices that belong, or for one.
 */
export type MakeCarry = { 
/**
 * Which pupil.
 */
pupil: PupilId, 
/**
 * For one device only.
 */
to: DeviceId | null, 
/**
 * Most bytes of one file; what does not fit is split.
 */
partBytes: number | null, };

/**
 * Makes the key on paper.
 */
export type MakePaperKey = { 
/**
 * The key that it is to replace, as it stands on the paper.
 */
before: string | null, };

/**
 * What a person put on a page.
 */
export type Mark = { 
/**
 * Its id.
 */
id: MarkId, 
/**
 * The page it is on.
 */
page: PageId, 
/**
 * What it looks like.
 */
shape: MarkShape, 
/**
 * The sentence with it; may be empty for a box or a stroke.
 */
words: string, 
/**
 * The aspect it speaks of.
 */
aspect: Aspect | null, 
/**
 * Whether it praises.
 */
praise: boolean, 
/**
 * When it was made.
 */
madeAt: Moment, 
/**
 * Who made it.
 */
by: DeviceId, };

/**
 * The mark just made.
 */
export type MarkAdded = { 
/**
 * Its id.
 */
mark: MarkId, };

/**
 * One mark that a person put on a page.
 */
export type MarkId = string;

/**
 * What a mark looks like. Coordinates are millimetres on the page.
 */
export type MarkShape = { "shape": "box", 
/**
 * The box.
 */
bounds: BoxMm, } | { "shape": "pen", 
/**
 * Its points in order; at most 4,000.
 */
points: Array<PointMm>, } | { "shape": "note", 
/**
 * The place.
 */
at: PointMm, };

/**
 * One measure of a page.
 */
export type Measure = { 
/**
 * Which.
 */
name: MeasureName, 
/**
 * Whether it would be another figure, had nobody put anything right on the page.
 */
byHand: boolean, } & ({ "outcome": "measured", 
/**
 * The value in the measure's unit.
 */
value: number, 
/**
 * Standard error of measuring this page, same unit.
 */
se: number, 
/**
 * How much the single letters, words or lines differ (their standard deviation), same
 * unit; `None` for measures that are themselves a spread or a count.
 */
spread: number | null, 
/**
 * How many letters, words or lines it rests on.
 */
n: number, 
/**
 * Where on the page; at most 400, the most telling first.
 */
places: Array<BoxMm>, } | { "outcome": "notMeasured", 
/**
 * The reason.
 */
because: WhyNot, });

/**
 * One number that a page can be measured for.
 */
export type MeasureName = "drift" | "wander" | "offset" | "on_line" | "x_height" | "x_height_cv" | "growth" | "ascender_ratio" | "descender_ratio" | "tall_clear" | "well_formed" | "joins_made" | "letter_gap" | "letter_gap_cv" | "word_gap" | "word_gap_cv" | "o_width" | "slant" | "slant_sd" | "corrections" | "pace";

/**
 * How one meeting went.
 */
export type Meeting = { 
/**
 * The other device.
 */
device: DeviceId, 
/**
 * Its name.
 */
name: string, 
/**
 * Changes sent.
 */
sentChanges: number, 
/**
 * Changes received.
 */
receivedChanges: number, 
/**
 * Pictures and readings sent.
 */
sentBlobs: number, 
/**
 * Pictures and readings received.
 */
receivedBlobs: number, 
/**
 * Changes refused.
 */
refusedChanges: number, 
/**
 * Why it did not come about.
 */
problem: Problem | null, };

/**
 * Photograph pixels of the nodes of an even grid over the sheet, row by row from its top left
 * corner; between nodes the mapping runs straight (bilinear).
 */
export type Mesh = { 
/**
 * Nodes in a row, at least two.
 */
columns: number, 
/**
 * At least two rows of nodes; x right, y down, (0, 0) the centre of the first pixel.
 */
nodes: Array<[number, number]>, };

/**
 * Millimetres on the flat sheet; x along the ruling to the right, y down.
 */
export type Mm = number;

/**
 * Milliseconds since 1970-01-01T00:00:00Z, as the writing device's clock had it.
 */
export type Moment = number;

/**
 * A change that is more than noise, for a list.
 */
export type News = { 
/**
 * Which measure.
 */
name: MeasureName, 
/**
 * The aspect it speaks for; `None` for pace.
 */
aspect: Aspect | null, 
/**
 * Task kind.
 */
kind: TaskKind, 
/**
 * Better, worse or changed.
 */
verdict: Verdict, 
/**
 * Whether the pages of before the last lesson did not say so yet; without lessons, those before
 * the newest.
 */
fresh: boolean, };

/**
 * Nothing to say, or nothing to ask.
 */
export type Nothing = Record<symbol, never>;

/**
 * What people should hear of that happened while nobody looked.
 */
export type Notice = { "notice": "lateEditsDropped", 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * How many.
 */
edits: number, } | { "notice": "erased", } | { "notice": "refused", 
/**
 * The device that brought them.
 */
from: DeviceId, 
/**
 * The device in whose name they are.
 */
author: DeviceId, 
/**
 * How many.
 */
changes: number, } | { "notice": "cutOff", 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The device that was removed.
 */
author: DeviceId, 
/**
 * How many of its changes.
 */
changes: number, } | { "notice": "unfinished", 
/**
 * Why.
 */
problem: Problem, };

/**
 * All notices.
 */
export type NoticeList = { 
/**
 * The newest first.
 */
notices: Array<NoticeRow>, };

/**
 * A notice with its moment.
 */
export type NoticeRow = { 
/**
 * When.
 */
at: Moment, 
/**
 * What.
 */
notice: Notice, };

/**
 * Names a wish.
 */
export type OfAsk = { 
/**
 * Of which pupil.
 */
pupil: PupilId, 
/**
 * Which.
 */
ask: AskId, };

/**
 * Names a device.
 */
export type OfDevice = { 
/**
 * Which.
 */
device: DeviceId, };

/**
 * Names a draft.
 */
export type OfDraft = { 
/**
 * What it is for; ids in it stand between slashes.
 */
key: string, };

/**
 * Names one page.
 */
export type OfPage = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
page: PageId, };

/**
 * Names one pupil.
 */
export type OfPupil = { 
/**
 * Which.
 */
pupil: PupilId, };

/**
 * Names a staged photograph.
 */
export type OfStaged = { 
/**
 * From [`Staged`].
 */
handle: string, };

/**
 * For whom a pairing is offered.
 */
export type OfferPairing = { "for": "family", 
/**
 * Which pupil it is to see.
 */
pupil: PupilId, } | { "for": "ownDevice", } | { "for": "tutorAgain", 
/**
 * Which pupil.
 */
pupil: PupilId, };

/**
 * What the tutor shows to the parent.
 */
export type Offered = { 
/**
 * The pairing text, to be typed or scanned.
 */
code: string, 
/**
 * The same as a QR picture (SVG).
 */
qrSvg: string, 
/**
 * Until when it can be used.
 */
expiresAt: Moment, };

/**
 * Opens a carry file.
 */
export type OpenCarry = { 
/**
 * Its bytes, base64 (RFC 4648).
 */
base64: string, };

/**
 * Who opens this device's data.
 */
export type OpenedBy = "keyring" | "passphrase" | "keyFile";

/**
 * What this device is.
 */
export type Overview = { 
/**
 * Set once at first start; `None` until then.
 */
device: ThisDevice | null, 
/**
 * Whether other devices on the network may reach this one.
 */
network: boolean, 
/**
 * The relay that carries meetings where there is no direct way, if one is named.
 */
relay: string | null, 
/**
 * Where this device can be reached now, to be typed on another; empty while the network is off.
 */
addresses: Array<string>, 
/**
 * Who opens this device's data.
 */
openedBy: OpenedBy, 
/**
 * Whether the tutor has a key on paper; `None` on a parent's device.
 */
paperKey: boolean | null, 
/**
 * Version of the program.
 */
version: string, };

/**
 * How fast children of one study copied.
 */
export type PaceStudy = { 
/**
 * Where it was published, and how its figures came here.
 */
source: string, 
/**
 * Grade by grade, lowest first.
 */
grades: Array<GradePace>, };

/**
 * One photographed page.
 */
export type PageId = string;

/**
 * One photographed page.
 */
export type PageRecord = { 
/**
 * Its id.
 */
id: PageId, 
/**
 * The task it answers.
 */
task: TaskId | null, 
/**
 * The day it was written.
 */
writtenOn: Day, 
/**
 * How the text came about.
 */
kind: TaskKind, 
/**
 * The text, line by line, where it is known.
 */
text: Array<string> | null, 
/**
 * Whole minutes that the writing took, where an adult timed it.
 */
minutes: number | null, 
/**
 * The sheet.
 */
paper: Paper, 
/**
 * Its ruling.
 */
ruling: Ruling, 
/**
 * The letters that were taught at the time.
 */
model: LetterModel, 
/**
 * The picture of the page, cropped to the paper, without metadata.
 */
picture: BlobId, 
/**
 * The device that added it.
 */
addedBy: DeviceId, 
/**
 * Readings, oldest first; the last one is shown.
 */
readings: Array<ReadingRecord>, 
/**
 * When the tutor looked at it.
 */
lookedAt: Moment | null, };

/**
 * A page in a list.
 */
export type PageRow = { 
/**
 * Which.
 */
page: PageId, 
/**
 * The task it answers.
 */
task: TaskId | null, 
/**
 * Day it was written.
 */
writtenOn: Day, 
/**
 * How the text came about.
 */
kind: TaskKind, 
/**
 * Its picture; `None` while the picture is still to arrive.
 */
picture: BlobId | null, 
/**
 * How many marks are on it.
 */
marks: number, 
/**
 * Whether the tutor has looked at it.
 */
lookedAt: boolean, 
/**
 * Whether it stands as part of the starting point.
 */
starting: boolean, 
/**
 * Whether a device of the tutor's is known to hold it; `None` on the tutor's own.
 */
withTutor: boolean | null, 
/**
 * The figures of its newest reading.
 */
figures: Array<Figure>, };

/**
 * One page with all that is known of it.
 */
export type PageView = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The page as it stands in the books.
 */
record: PageRecord, 
/**
 * Whether the picture has arrived.
 */
pictureHere: boolean, 
/**
 * The newest reading with all places; `None` while it is still to arrive.
 */
reading: Reading | null, 
/**
 * Its figures with the change since the page before of the same kind.
 */
figures: Array<Figure>, 
/**
 * What other children wrote in a study, to stand beside the pace: context, never a verdict.
 */
paceStudy: PaceStudy, 
/**
 * Marks on it, oldest first.
 */
marks: Array<Mark>, 
/**
 * What a person put right on it, oldest first.
 */
amendments: Array<AmendmentRecord>, 
/**
 * Whether it stands as part of the starting point.
 */
starting: boolean, 
/**
 * Whether this device may show findings on letters and joins; where it may not, they are left
 * out of the figures and of the reading.
 */
lettersShown: boolean, 
/**
 * The page before, if any.
 */
earlier: PageId | null, 
/**
 * The page after, if any.
 */
later: PageId | null, };

/**
 * How far the pairing under way has come.
 */
export type PairingState = { "stage": "idle", } | { "stage": "waiting", 
/**
 * What is shown.
 */
offered: Offered, } | { "stage": "compare", 
/**
 * The words.
 */
words: Array<string>, } | { "stage": "confirmed", 
/**
 * The words.
 */
words: Array<string>, } | { "stage": "done", 
/**
 * The other device.
 */
device: DeviceRow, } | { "stage": "failed", 
/**
 * Why, and what to do.
 */
problem: Problem, };

/**
 * A sheet's format.
 */
export type Paper = "a4" | "a5" | "usLetter";

/**
 * The key on paper, shown once and kept nowhere.
 */
export type PaperKey = { 
/**
 * To be written down or printed.
 */
text: string, 
/**
 * The same as a QR picture (SVG).
 */
qrSvg: string, };

/**
 * A point on the flat sheet: x along the ruling, y down, millimetres from its top left corner.
 */
export type PointMm = { 
/**
 * To the right.
 */
x: Mm, 
/**
 * Down.
 */
y: Mm, };

/**
 * Practice that was done.
 */
export type Practised = { 
/**
 * Its id.
 */
id: PractisedId, 
/**
 * The day.
 */
day: Day, 
/**
 * Whole minutes.
 */
minutes: number, 
/**
 * The task that was practised, if it was one.
 */
task: TaskId | null, };

/**
 * One time that practice was done.
 */
export type PractisedId = string;

/**
 * A failure at the boundary: a stable code to sort by and two plain sentences.
 */
export type Problem = { 
/**
 * Stable kebab-case name, for programs; never shown.
 */
code: string, 
/**
 * What happened, in one plain sentence.
 */
message: string, 
/**
 * What to do now, in one plain sentence.
 */
whatToDo: string, };

/**
 * What is kept of a pupil: the least that the work needs.
 */
export type Profile = { 
/**
 * A first name or initials.
 */
name: string, 
/**
 * School year.
 */
year: SchoolYear, 
/**
 * Writing hand.
 */
hand: Hand, 
/**
 * The letters that the school teaches.
 */
model: LetterModel, 
/**
 * Usual paper.
 */
paper: Paper, 
/**
 * Usual ruling.
 */
ruling: Ruling, };

/**
 * One pupil's history, the same on every device.
 */
export type ProgressView = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * A chart for each measure and task kind that has a page, in the order of the aspects, pace last.
 */
charts: Array<Chart>, 
/**
 * Focus periods, oldest first.
 */
focuses: Array<Focus>, 
/**
 * What may be said of each aspect, for each task kind that has a page.
 */
aspects: Array<AspectVerdict>, 
/**
 * Targets.
 */
targets: Array<Target>, };

/**
 * One pupil, on every device.
 */
export type PupilId = string;

/**
 * All pupils on this device.
 */
export type PupilList = { 
/**
 * In the tutor's own order.
 */
pupils: Array<PupilRow>, };

/**
 * A pupil in a list.
 */
export type PupilRow = { 
/**
 * Which.
 */
pupil: PupilId, 
/**
 * Profile; `None` until the tutor's book has arrived.
 */
profile: Profile | null, 
/**
 * Pages in all.
 */
pages: number, 
/**
 * Day of the newest page.
 */
lastPage: Day | null, 
/**
 * The oldest page that the tutor has not looked at yet.
 */
nextUnseen: PageId | null, 
/**
 * How many pages the tutor has not looked at yet.
 */
unseen: number, 
/**
 * The aspect worked on now.
 */
focus: Aspect | null, 
/**
 * The newest task.
 */
task: Task | null, 
/**
 * Whether a page answers that task.
 */
answered: boolean, 
/**
 * How many other devices hold this pupil.
 */
devices: number, 
/**
 * How many wishes that something be forgotten stand open.
 */
asks: number, 
/**
 * The day by which the pupil is to be erased.
 */
deleteBy: Day | null, 
/**
 * Whether the day by which the pupil is to be erased has come.
 */
due: boolean, 
/**
 * When the pupil comes each week, by the tutor's private book.
 */
lesson: Lesson | null, 
/**
 * The newest day of a lesson before today.
 */
lastLesson: Day | null, 
/**
 * Whether there is a lesson today.
 */
lessonToday: boolean, 
/**
 * Pages that came in since the last lesson; without lessons, those not looked at.
 */
came: number, 
/**
 * What changed more than noise.
 */
news: Array<News>, 
/**
 * Photographs of this pupil that wait on this device to be kept or dropped.
 */
photosWaiting: number, };

/**
 * All of one pupil.
 */
export type PupilView = { 
/**
 * Which.
 */
pupil: PupilId, 
/**
 * Profile; `None` until the tutor's book has arrived.
 */
profile: Profile | null, 
/**
 * Tasks, newest first.
 */
tasks: Array<Task>, 
/**
 * Pages, newest first.
 */
pages: Array<PageRow>, 
/**
 * Focus periods, newest first.
 */
focuses: Array<Focus>, 
/**
 * Whether the family sees letter findings before the tutor has looked.
 */
lettersAllowed: boolean, 
/**
 * Whether some of it was written by a newer version of the program.
 */
newer: boolean, };

/**
 * A pure number: a share (0 to 1), a coefficient of variation, a proportion.
 */
export type Ratio = number;

/**
 * The text of a letter model's file.
 */
export type ReadLetterModel = { 
/**
 * What stands in the file.
 */
text: string, };

/**
 * All that the engine found on one page. The same page gives the same reading on every platform.
 */
export type Reading = { 
/**
 * Engine name and version.
 */
engine: string, 
/**
 * How the sheet lies in the photograph.
 */
frame: Frame, 
/**
 * Whether the photograph could be read.
 */
fitness: Fitness, 
/**
 * The ruling found; `None` on plain paper or where none was found.
 */
ruling: RulingFound | null, 
/**
 * Lines, top to bottom.
 */
lines: Array<Line>, 
/**
 * Words, line by line.
 */
words: Array<Word>, 
/**
 * Letters, word by word.
 */
letters: Array<Letter>, 
/**
 * Joins that are expected, letter by letter; empty where the writing is not joined or its text
 * not known.
 */
joins: Array<Join>, 
/**
 * Corrections, top to bottom.
 */
corrections: Array<Correction>, 
/**
 * How the text goes with the ink; `None` where it is not known.
 */
text: TextFit | null, 
/**
 * Every measure of [`MeasureName::ALL`], once each, in that order.
 */
measures: Array<Measure>, };

/**
 * One reading of a page; measuring again makes another.
 */
export type ReadingId = string;

/**
 * One measuring of a page, as kept in the document.
 */
export type ReadingRecord = { 
/**
 * Its id.
 */
id: ReadingId, 
/**
 * Engine name and version.
 */
engine: string, 
/**
 * When it was made.
 */
madeAt: Moment, 
/**
 * Every measure, without places.
 */
measures: Array<Measure>, 
/**
 * The whole [`crate::Reading`], as a blob.
 */
detail: BlobId, };

/**
 * What a letter's shape reads as, by itself, whatever the word says.
 */
export type Reads = { 
/**
 * Probability that it reads as the letter meant.
 */
asMeant: Ratio, 
/**
 * What else it may read as, most probably; `None` where that is no letter.
 */
other: string | null, 
/**
 * Probability of that.
 */
otherShare: Ratio, };

/**
 * When this device reminds of the weekly page.
 */
export type ReminderView = { 
/**
 * When; `None` where it does not.
 */
at: Lesson | null, 
/**
 * Whether the program around this screen can show the system's notifications.
 */
possible: boolean, };

/**
 * Takes a mark off again.
 */
export type RemoveMark = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which.
 */
mark: MarkId, };

/**
 * An answer to a page or to a mark on it.
 */
export type Reply = { 
/**
 * Its id.
 */
id: ReplyId, 
/**
 * The page.
 */
page: PageId, 
/**
 * The mark that it answers, if it is one.
 */
mark: MarkId | null, 
/**
 * The words.
 */
words: string, 
/**
 * When it was written.
 */
madeAt: Moment, 
/**
 * Who wrote it.
 */
by: DeviceId, };

/**
 * One answer to a page or a mark.
 */
export type ReplyId = string;

/**
 * Comes back by the key on paper.
 */
export type ReturnByPaper = { 
/**
 * The key as it stands on the paper.
 */
paperKey: string, };

/**
 * Whose device this is.
 */
export type Role = "tutor" | "parent";

/**
 * What is printed on the sheet to write on.
 */
export type Ruling = { "kind": "plain" } | { "kind": "lines", 
/**
 * Distance of one line from the next.
 */
pitch: Mm, } | { "kind": "squares", 
/**
 * Side of a square.
 */
side: Mm, 
/**
 * Squares from one written line to the next (1 or 2).
 */
every: number, } | { "kind": "fourLine", 
/**
 * Distance of one group from the next.
 */
pitch: Mm, 
/**
 * Distance of the two inner lines, between which short letters stand.
 */
inner: Mm, };

/**
 * The ruling as found on the page.
 */
export type RulingFound = { 
/**
 * Distance of one written line from the next.
 */
pitch: Mm, 
/**
 * Each written line as (left end, right end).
 */
rules: Array<[PointMm, PointMm]>, };

/**
 * Where the millimetre came from.
 */
export type ScaleSource = "sheet" | "ruling" | "paper";

/**
 * School year, 0 (reception) to 13.
 */
export type SchoolYear = number;

/**
 * Says where a device can be reached.
 */
export type SetAddress = { 
/**
 * Which.
 */
device: DeviceId, 
/**
 * Address and port.
 */
address: string, };

/**
 * Says where the sheet's corners are in a staged photograph.
 */
export type SetCorners = { 
/**
 * From [`Staged`].
 */
handle: string, 
/**
 * In order around the sheet; `None` to look for them anew.
 */
corners: [Corner, Corner, Corner, Corner] | null, };

/**
 * Sets the day by which a pupil is to be erased.
 */
export type SetDeleteBy = { 
/**
 * Which pupil.
 */
pupil: PupilId, 
/**
 * The day; `None` for none.
 */
day: Day | null, };

/**
 * Sets when a pupil comes each week.
 */
export type SetLesson = { 
/**
 * Who.
 */
pupil: PupilId, 
/**
 * When; `None` for no set time.
 */
lesson: Lesson | null, };

/**
 * Says how long the writing took; the page is measured again.
 */
export type SetMinutes = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * Whole minutes, 1 to 240; `None` where nobody timed it.
 */
minutes: number | null, };

/**
 * Switches meetings over the network on or off.
 */
export type SetNetwork = { 
/**
 * On or off.
 */
on: boolean, 
/**
 * The relay's address (`https://…`), or `None` for none; left as it is where the network is
 * switched off.
 */
relay: string | null, };

/**
 * Sets the tutor's private note on a pupil.
 */
export type SetNote = { 
/**
 * Which.
 */
pupil: PupilId, 
/**
 * The note; an empty one removes it.
 */
note: string, };

/**
 * Puts the pupils in order.
 */
export type SetOrder = { 
/**
 * The pupils; those left out follow.
 */
pupils: Array<PupilId>, };

/**
 * Sets when this device reminds of the weekly page.
 */
export type SetReminder = { 
/**
 * When; `None` for never.
 */
at: Lesson | null, };

/**
 * Says which ruling the page was written on; it is measured again.
 */
export type SetRuling = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * The ruling.
 */
ruling: Ruling, };

/**
 * Says whether a page stands as part of the starting point.
 */
export type SetStarting = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * Whether it does.
 */
starting: boolean, };

/**
 * Sets a target.
 */
export type SetTarget = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * The target.
 */
target: Target, };

/**
 * Sets the week's task.
 */
export type SetTask = { 
/**
 * For whom.
 */
pupil: PupilId, 
/**
 * How the text comes about.
 */
kind: TaskKind, 
/**
 * The text to write, line by line; `None` for own words.
 */
text: Array<string> | null, 
/**
 * Paper; the pupil's usual one where not said.
 */
paper: Paper | null, 
/**
 * Ruling; the pupil's usual one where not said.
 */
ruling: Ruling | null, 
/**
 * Minutes of practice asked for, 1 to 120.
 */
minutes: number, 
/**
 * The aspect to work on.
 */
focus: Aspect | null, 
/**
 * Day; today where not said.
 */
setOn: Day | null, };

/**
 * Says what an adult read on the page; it is measured again.
 */
export type SetText = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * The text line by line, crossed-out words left out.
 */
text: Array<string>, };

/**
 * How the child sat, as somebody looked before writing began.
 */
export type SetUpCheck = { 
/**
 * Its id.
 */
id: SetUpId, 
/**
 * The day.
 */
day: Day, 
/**
 * What was as it should be.
 */
fine: Array<SetUpItem>, 
/**
 * What was not, or not yet.
 */
notYet: Array<SetUpItem>, };

/**
 * One look at how a child sits.
 */
export type SetUpId = string;

/**
 * What is looked at before writing begins. Prompts, never scored.
 */
export type SetUpItem = "feet" | "seat" | "table" | "paper" | "light" | "hold" | "otherHand";

/**
 * Settles at first start whose device this is.
 */
export type Settle = { 
/**
 * Whose.
 */
role: Role, 
/**
 * The name that the other side sees, 1 to 60 characters.
 */
name: string, };

/**
 * A letter of the text that no ink was found for.
 */
export type Skipped = { 
/**
 * Index into the reading's lines.
 */
line: number, 
/**
 * The letter.
 */
letter: string, 
/**
 * Where it would stand.
 */
at: BoxMm, };

/**
 * Goes with the bytes of a photograph: what it answers.
 */
export type StagePhoto = { 
/**
 * Whose page.
 */
pupil: PupilId, 
/**
 * The task it answers; text, kind and paper come from it.
 */
task: TaskId | null, 
/**
 * Kind of a page that answers no task; own words where not said.
 */
kind: TaskKind | null, 
/**
 * The day it was written; today where not said.
 */
writtenOn: Day | null, };

/**
 * A photograph looked at, not yet kept.
 */
export type Staged = { 
/**
 * Names it until it is kept or dropped, also after a restart.
 */
handle: string, 
/**
 * The task it answers.
 */
task: TaskId | null, 
/**
 * Kind of the page.
 */
kind: TaskKind, 
/**
 * The day it was written.
 */
writtenOn: Day, 
/**
 * Whether the photograph that this one was to take the place of waits on beside it, because this one
 * shows the page less well.
 */
earlierStays: boolean, 
/**
 * Whether it can be read.
 */
fit: boolean, 
/**
 * Every check made.
 */
checks: Array<FitAdvice>, 
/**
 * Width of the page picture, to leave room for it; 0 where no sheet was found.
 */
widthPx: number, 
/**
 * Height of the page picture.
 */
heightPx: number, 
/**
 * Whether a sheet was found.
 */
found: boolean, 
/**
 * Its corners in the photograph, clockwise from the sheet's top left.
 */
corners: [Corner, Corner, Corner, Corner] | null, 
/**
 * Width of the photograph as it is shown.
 */
photoWidthPx: number, 
/**
 * Height of the photograph as it is shown.
 */
photoHeightPx: number, };

/**
 * Begins a focus period; one that is open ends the day before.
 */
export type StartFocus = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * On what.
 */
aspect: Aspect, 
/**
 * First day; today where not said.
 */
from: Day | null, 
/**
 * The tutor's own sentence on what to try; may be empty.
 */
tryThis: string, };

/**
 * Stories of a form: an *a* or a *g* is taught as one round part, or with a second one.
 */
export type Storeys = "one" | "two";

/**
 * Takes back what was put right; the page is measured again without it. Tutor only.
 */
export type TakeBack = { 
/**
 * Whose.
 */
pupil: PupilId, 
/**
 * Which page.
 */
page: PageId, 
/**
 * What.
 */
amendment: AmendmentId, };

/**
 * A photograph on its way in.
 */
export type TakenPhoto = { 
/**
 * The staged photograph of the same pupil that it is to take the place of: while that one waits, this
 * one answers what that one does, whatever is said here.
 */
insteadOf: string | null, 
/**
 * Whose page.
 */
pupil: PupilId, 
/**
 * The task it answers; text, kind and paper come from it.
 */
task: TaskId | null, 
/**
 * Kind of a page that answers no task; own words where not said.
 */
kind: TaskKind | null, 
/**
 * The day it was written; today where not said.
 */
writtenOn: Day | null, };

/**
 * Where a measure is to go.
 */
export type Target = { 
/**
 * The measure.
 */
measure: MeasureName, 
/**
 * Its value, in the measure's unit.
 */
value: number, 
/**
 * By which day, if one was said.
 */
by: Day | null, };

/**
 * What the tutor sets for a week.
 */
export type Task = { 
/**
 * Its id.
 */
id: TaskId, 
/**
 * The day it was set.
 */
setOn: Day, 
/**
 * How the text comes about.
 */
kind: TaskKind, 
/**
 * The text to write, line by line; `None` for own words.
 */
text: Array<string> | null, 
/**
 * Paper to write on.
 */
paper: Paper, 
/**
 * Its ruling.
 */
ruling: Ruling, 
/**
 * Minutes of practice asked for.
 */
minutes: number, 
/**
 * The aspect to work on.
 */
focus: Aspect | null, };

/**
 * One task of a week.
 */
export type TaskId = string;

/**
 * How the text came about. Kinds are never mixed in one trend
 * (Rosenblum, Parush & Weiss 2004, Reading and Writing 17:433-458).
 */
export type TaskKind = "copied" | "dictated" | "ownWords";

/**
 * The task just set.
 */
export type TaskSet = { 
/**
 * Its id.
 */
task: TaskId, };

/**
 * A file to be saved by the screen.
 */
export type TextFile = { 
/**
 * A name for it.
 */
name: string, 
/**
 * What stands in it.
 */
text: string, };

/**
 * How the known text goes with the ink.
 */
export type TextFit = { 
/**
 * Whether it is the text of this page. If not, no letter is told from it.
 */
fits: boolean, 
/**
 * Letters of the text; spaces are not counted.
 */
letters: number, 
/**
 * Letters whose ink was found surely.
 */
found: number, 
/**
 * Lines, by their index, whose ink reads as another text; their letters count nowhere.
 */
otherLines: Array<number>, 
/**
 * Letters of the text that no ink was found for, at most 400.
 */
skipped: Array<Skipped>, 
/**
 * Ink beyond the text's, not crossed out, that may be letters too many; at most 400.
 */
extra: Array<BoxMm>, };

/**
 * This device.
 */
export type ThisDevice = { 
/**
 * Its key.
 */
id: DeviceId, 
/**
 * Whose it is.
 */
role: Role, 
/**
 * The name that the other side sees.
 */
name: string, };

/**
 * A straight trend.
 */
export type Trend = { 
/**
 * First day.
 */
fromDay: Day, 
/**
 * Value of the trend line there.
 */
fromValue: number, 
/**
 * Last day.
 */
toDay: Day, 
/**
 * Value of the trend line there.
 */
toValue: number, 
/**
 * Change a week.
 */
perWeek: number, 
/**
 * Lower end of its 95 % interval.
 */
low: number, 
/**
 * Upper end of its 95 % interval.
 */
high: number, };

/**
 * The unit of a measure.
 */
export type Unit = "mm" | "degrees" | "ratio" | "share" | "oWidths" | "percentPer100Mm" | "per100Words" | "lettersPerMinute";

/**
 * Whether a change is told apart from noise.
 */
export type Verdict = "tooFewPages" | "notYet" | "better" | "worse" | "changed";

/**
 * A staged photograph among those that wait to be kept or dropped.
 */
export type WaitingPhoto = { 
/**
 * Names it until it is kept or dropped.
 */
handle: string, 
/**
 * The task it answers.
 */
task: TaskId | null, 
/**
 * Kind of the page.
 */
kind: TaskKind, 
/**
 * The day it was written.
 */
writtenOn: Day, 
/**
 * Since when it waits.
 */
since: Moment, };

/**
 * The photographs of a pupil that wait on this device.
 */
export type WaitingPhotos = { 
/**
 * The longest first.
 */
photos: Array<WaitingPhoto>, };

/**
 * A day of the week.
 */
export type Weekday = "monday" | "tuesday" | "wednesday" | "thursday" | "friday" | "saturday" | "sunday";

/**
 * Why a measure was not taken.
 */
export type WhyNot = "noRuling" | "tooFewLetters" | "tooFewWords" | "linesTooShort" | "noO" | "lettersNotApart" | "needsText" | "notTimed" | "textDoesNotFit" | "noJoins";

/**
 * A word.
 */
export type Word = { 
/**
 * Index into the reading's lines.
 */
line: number, 
/**
 * All ink of the word.
 */
bounds: BoxMm, 
/**
 * The word as known from the text; `None` where it is not known.
 */
text: string | null, 
/**
 * Whether the word was crossed out.
 */
struck: boolean, };

/**
 * A letter model to be written as a file.
 */
export type WriteLetterModel = { 
/**
 * The model.
 */
model: LetterModel, };

export interface Verbs {
  overview: { input: Nothing; output: Overview };
  settle: { input: Settle; output: Overview };
  load_example: { input: Nothing; output: Overview };
  add_pupil: { input: AddPupil; output: AddedPupil };
  change_pupil: { input: ChangePupil; output: Nothing };
  pupils: { input: Nothing; output: PupilList };
  pupil: { input: OfPupil; output: PupilView };
  allow_letters: { input: AllowLetters; output: Nothing };
  set_lesson: { input: SetLesson; output: Nothing };
  set_order: { input: SetOrder; output: Nothing };
  set_task: { input: SetTask; output: TaskSet };
  start_focus: { input: StartFocus; output: FocusStarted };
  end_focus: { input: EndFocus; output: Nothing };
  waiting_photos: { input: OfPupil; output: WaitingPhotos };
  look_again: { input: OfStaged; output: Staged };
  set_corners: { input: SetCorners; output: Staged };
  keep_page: { input: KeepPage; output: KeptPage };
  drop_photo: { input: OfStaged; output: Nothing };
  page: { input: OfPage; output: PageView };
  look: { input: OfPage; output: Nothing };
  set_text: { input: SetText; output: Nothing };
  set_minutes: { input: SetMinutes; output: Nothing };
  measure_again: { input: OfPage; output: Nothing };
  set_ruling: { input: SetRuling; output: Nothing };
  set_starting: { input: SetStarting; output: Nothing };
  add_mark: { input: AddMark; output: MarkAdded };
  change_mark: { input: ChangeMark; output: Nothing };
  remove_mark: { input: RemoveMark; output: Nothing };
  progress: { input: OfPupil; output: ProgressView };
  letter_models: { input: Nothing; output: LetterModels };
  write_letter_model: { input: WriteLetterModel; output: TextFile };
  read_letter_model: { input: ReadLetterModel; output: LetterModelRead };
  amend: { input: Amend; output: Amended };
  take_back: { input: TakeBack; output: Nothing };
  export_amendments: { input: ExportAmendments; output: TextFile };
  find_letters: { input: FindLetters; output: LettersFound };
  home: { input: OfPupil; output: HomeView };
  add_practised: { input: AddPractised; output: Nothing };
  drop_practised: { input: DropPractised; output: Nothing };
  add_set_up: { input: AddSetUp; output: Nothing };
  add_reply: { input: AddReply; output: Nothing };
  set_target: { input: SetTarget; output: Nothing };
  drop_target: { input: DropTarget; output: Nothing };
  set_note: { input: SetNote; output: Nothing };
  furniture: { input: FurnitureFor; output: FurnitureSizes };
  draft: { input: OfDraft; output: Draft };
  keep_draft: { input: KeepDraft; output: Nothing };
  reminder: { input: Nothing; output: ReminderView };
  set_reminder: { input: SetReminder; output: Nothing };
  keeping: { input: OfPupil; output: KeepingView };
  take_page_out: { input: OfPage; output: Nothing };
  forget_pages: { input: ForgetPages; output: Nothing };
  forget_before: { input: ForgetBefore; output: Nothing };
  shorten_history: { input: OfPupil; output: Nothing };
  erase_pupil: { input: OfPupil; output: Nothing };
  ask_to_forget: { input: AskToForget; output: Nothing };
  put_ask_aside: { input: OfAsk; output: Nothing };
  set_delete_by: { input: SetDeleteBy; output: Nothing };
  back_up: { input: BackUp; output: BackedUp };
  bring_back: { input: BringBack; output: Overview };
  make_carry: { input: MakeCarry; output: CarryMade };
  open_carry: { input: OpenCarry; output: CarryOpened };
  notices: { input: Nothing; output: NoticeList };
  clear_notices: { input: Nothing; output: Nothing };
  devices: { input: Nothing; output: DeviceList };
  holds: { input: OfDevice; output: Holding };
  stop_exchange: { input: Nothing; output: Nothing };
  remove_device: { input: OfDevice; output: Nothing };
  set_address: { input: SetAddress; output: Nothing };
  make_paper_key: { input: MakePaperKey; output: PaperKey };
  pairing: { input: Nothing; output: PairingState };
  set_network: { input: SetNetwork; output: Overview };
  offer_pairing: { input: OfferPairing; output: PairingState };
  join_pairing: { input: JoinPairing; output: PairingState };
  confirm_pairing: { input: ConfirmPairing; output: PairingState };
  cancel_pairing: { input: Nothing; output: PairingState };
  exchange: { input: Exchange; output: Exchanged };
  return_by_paper: { input: ReturnByPaper; output: Exchanged };
}
