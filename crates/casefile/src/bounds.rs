//! What a record may hold. The same bounds hold when writing and when reading what others wrote.

use units::{
    Amendment, AmendmentRecord, Ask, BoxMm, Day, Focus, Lesson, LetterModel, Mark, MarkShape,
    Measure, Mm, Moment, Outcome, PageRecord, PointMm, Practised, Profile, ReadingRecord, Reply,
    Ruling, SetUpCheck, SetUpItem, Target, Task,
};

use crate::WriteRefused::{self, Empty, OutOfRange, TooLong};
use crate::{
    MAX_LINE_CHARS, MAX_MINUTES, MAX_NAME_CHARS, MAX_PEN_POINTS, MAX_TEXT_LINES, MAX_WORDS_CHARS,
};

type Checked = Result<(), WriteRefused>;

/// The last school year.
const LAST_YEAR: u8 = 13;
/// No place on or beside a sheet is further from its corner, mm.
const FAR: f64 = 2_000.0;
/// Most measures of one reading.
const MAX_MEASURES: usize = 64;
/// Most readings that a page is added with.
const MAX_READINGS: usize = 8;
/// Most characters of an engine's name and version.
const MAX_ENGINE_CHARS: usize = 60;

fn at_most(what: &'static str, size: usize, limit: usize) -> Checked {
    match size <= limit {
        true => Ok(()),
        false => Err(TooLong { what, limit }),
    }
}

fn within(what: &'static str, holds: bool) -> Checked {
    match holds {
        true => Ok(()),
        false => Err(OutOfRange(what)),
    }
}

pub(crate) fn words(what: &'static str, words: &str) -> Checked {
    at_most(what, words.chars().count(), MAX_WORDS_CHARS)
}

pub(crate) fn profile(profile: &Profile) -> Checked {
    name("the name", &profile.name)?;
    within("the school year", profile.year.0 <= LAST_YEAR)?;
    model(&profile.model)?;
    ruling(profile.ruling)
}

pub(crate) fn name(what: &'static str, name: &str) -> Checked {
    if name.trim().is_empty() {
        return Err(Empty(what));
    }
    at_most(what, name.chars().count(), MAX_NAME_CHARS)
}

pub(crate) fn task(task: &Task) -> Checked {
    day(task.set_on)?;
    text(task.text.as_deref())?;
    ruling(task.ruling)?;
    within("the minutes of practice", task.minutes <= MAX_MINUTES)
}

pub(crate) fn page(page: &PageRecord) -> Checked {
    day(page.written_on)?;
    text(page.text.as_deref())?;
    minutes(page.minutes)?;
    model(&page.model)?;
    ruling(page.ruling)?;
    at_most("the page's readings", page.readings.len(), MAX_READINGS)?;
    page.readings.iter().try_for_each(reading)
}

pub(crate) fn minutes(minutes: Option<u16>) -> Checked {
    let whole = minutes.is_none_or(|minutes| (1..=MAX_MINUTES).contains(&minutes));
    within("the minutes of writing", whole)
}

pub(crate) fn reading(reading: &ReadingRecord) -> Checked {
    let engine = reading.engine.chars().count();
    at_most("the engine's name", engine, MAX_ENGINE_CHARS)?;
    moment(reading.made_at)?;
    at_most("the reading", reading.measures.len(), MAX_MEASURES)?;
    reading.measures.iter().try_for_each(measure)
}

fn measure(measure: &Measure) -> Checked {
    let Outcome::Measured {
        value, se, spread, ..
    } = &measure.outcome
    else {
        return Ok(());
    };
    let size = |number: &f64| number.is_finite() && *number >= 0.0;
    within("a measure", value.is_finite())?;
    within("a standard error", size(se))?;
    within("a spread", spread.iter().all(size))
}

pub(crate) fn mark(mark: &Mark) -> Checked {
    words("the mark's words", &mark.words)?;
    moment(mark.made_at)?;
    match &mark.shape {
        MarkShape::Box { bounds } => within("the box", whole_box(bounds)),
        MarkShape::Note { at } => within("the note's place", place(at)),
        MarkShape::Pen { points } => {
            if points.is_empty() {
                return Err(Empty("the pen stroke"));
            }
            at_most("the pen stroke", points.len(), MAX_PEN_POINTS)?;
            within("the pen stroke", points.iter().all(place))
        }
    }
}

pub(crate) fn amendment(amendment: &AmendmentRecord) -> Checked {
    moment(amendment.made_at)?;
    let (at, letter, bounds) = match &amendment.what {
        Amendment::Letter { at, letter, bounds } => (at, Some(letter), bounds.as_ref()),
        Amendment::Fault { at, letter, .. }
        | Amendment::Reads { at, letter, .. }
        | Amendment::Join { at, letter, .. } => (at, Some(letter), None),
        Amendment::Correction { at, .. }
        | Amendment::NotWriting { at }
        | Amendment::Line { at } => (at, None, None),
    };
    within("the letter", letter.is_none_or(|letter| written(*letter)))?;
    within("the place", whole_box(at))?;
    within("the letter's place", bounds.is_none_or(whole_box))
}

/// Whether a character is one that ink can be.
fn written(letter: char) -> bool {
    !letter.is_whitespace() && !letter.is_control()
}

pub(crate) fn focus(focus: &Focus) -> Checked {
    words("what to try", &focus.try_this)?;
    day(focus.from)?;
    focus.to.map_or(Ok(()), |to| focus_end(focus, to))
}

pub(crate) fn focus_end(focus: &Focus, to: Day) -> Checked {
    day(to)?;
    within("the last day of the focus", to >= focus.from)
}

pub(crate) fn practised(practised: &Practised) -> Checked {
    day(practised.day)?;
    minutes(Some(practised.minutes))
}

pub(crate) fn setup(check: &SetUpCheck) -> Checked {
    day(check.day)?;
    let mut items: Vec<SetUpItem> = check.fine.iter().chain(&check.not_yet).copied().collect();
    let all = items.len();
    items.sort_unstable();
    items.dedup();
    within("the set-up check", all > 0 && items.len() == all)
}

pub(crate) fn reply(reply: &Reply) -> Checked {
    if reply.words.trim().is_empty() {
        return Err(Empty("the reply"));
    }
    words("the reply", &reply.words)?;
    moment(reply.made_at)
}

pub(crate) fn ask(ask: &Ask) -> Checked {
    moment(ask.made_at)
}

pub(crate) fn target(target: &Target) -> Checked {
    within("the target", target.value.is_finite())?;
    target.by.map_or(Ok(()), day)
}

pub(crate) fn moment(moment: Moment) -> Checked {
    within("the moment", moment.0 >= 0)?;
    day(moment.day())
}

/// Days of the years 1900 to 9999.
pub(crate) fn day(day: Day) -> Checked {
    const FIRST: i32 = -25_567;
    const LAST: i32 = 2_932_896;
    within("the day", (FIRST..=LAST).contains(&day.0))
}

pub(crate) fn text(lines: Option<&[String]>) -> Checked {
    let Some(lines) = lines else { return Ok(()) };
    at_most("the text", lines.len(), MAX_TEXT_LINES)?;
    for line in lines {
        at_most("a line of the text", line.chars().count(), MAX_LINE_CHARS)?;
        within("a line of the text", !line.contains(['\n', '\r']))?;
    }
    Ok(())
}

fn model(model: &LetterModel) -> Checked {
    within("the letter model", model.check().is_ok())
}

pub(crate) fn lesson(lesson: Lesson) -> Checked {
    within("the time of the lesson", lesson.minute < Lesson::DAY)
}

pub(crate) fn ruling(ruling: Ruling) -> Checked {
    let distance = |length: Mm| (1.0..=100.0).contains(&length.0);
    let holds = match ruling {
        Ruling::Plain => true,
        Ruling::Lines { pitch } => distance(pitch),
        Ruling::Squares { side, every } => distance(side) && (1..=10).contains(&every),
        Ruling::FourLine { pitch, inner } => {
            distance(pitch) && distance(inner) && inner.0 < pitch.0
        }
    };
    within("the ruling", holds)
}

fn whole_box(bounds: &BoxMm) -> bool {
    let corner = |x, y| place(&PointMm { x, y });
    corner(bounds.x0, bounds.y0)
        && corner(bounds.x1, bounds.y1)
        && bounds.x0.0 <= bounds.x1.0
        && bounds.y0.0 <= bounds.y1.0
}

fn place(point: &PointMm) -> bool {
    // A number that is not one fails both comparisons.
    point.x.0.abs() <= FAR && point.y.0.abs() <= FAR
}
