//! What was measured on a page, and where.

use serde::{Deserialize, Serialize};

use crate::{Degrees, MeasureName, Mesh, Mm, Ratio};

/// A point on the flat sheet: x along the ruling, y down, millimetres from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
pub struct PointMm {
    /// To the right.
    pub x: Mm,
    /// Down.
    pub y: Mm,
}

/// An upright box on the flat sheet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
pub struct BoxMm {
    /// Left edge.
    pub x0: Mm,
    /// Top edge.
    pub y0: Mm,
    /// Right edge.
    pub x1: Mm,
    /// Bottom edge.
    pub y1: Mm,
}

impl BoxMm {
    /// The box round both.
    #[must_use]
    pub fn union(self, other: &Self) -> Self {
        Self {
            x0: Mm(self.x0.0.min(other.x0.0)),
            y0: Mm(self.y0.0.min(other.y0.0)),
            x1: Mm(self.x1.0.max(other.x1.0)),
            y1: Mm(self.y1.0.max(other.y1.0)),
        }
    }

    /// The area that both share over the area that they cover together, 0 to 1; 0 where they cover
    /// none.
    pub fn overlap(&self, other: &Self) -> Ratio {
        let side = |from: Mm, to: Mm| (to.0 - from.0).max(0.0);
        let area = |one: &Self| side(one.x0, one.x1) * side(one.y0, one.y1);
        let shared = area(&Self {
            x0: Mm(self.x0.0.max(other.x0.0)),
            y0: Mm(self.y0.0.max(other.y0.0)),
            x1: Mm(self.x1.0.min(other.x1.0)),
            y1: Mm(self.y1.0.min(other.y1.0)),
        });
        let covered = area(self) + area(other) - shared;
        Ratio(if covered > 0.0 { shared / covered } else { 0.0 })
    }
}

/// Where the millimetre came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum ScaleSource {
    /// Corner marks of a printed sheet of our own.
    Sheet,
    /// The known pitch of the ruling.
    Ruling,
    /// The known size of the paper.
    Paper,
}

/// How the flat sheet lies in the photograph.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Frame {
    /// Width of the sheet.
    pub width: Mm,
    /// Height of the sheet.
    pub height: Mm,
    /// Pixels of the kept page picture for each millimetre.
    pub px_per_mm: f64,
    /// Where the sheet is seen in the upright photograph; `None` once only the page picture is
    /// kept.
    pub to_photo: Option<Mesh>,
    /// Where the scale came from.
    pub scale_source: ScaleSource,
    /// Relative standard error of the scale (0.004 = 0.4 %).
    pub scale_se: Ratio,
}

/// One thing that can make a photograph unreadable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum FitFault {
    /// Out of focus or shaken.
    Blur,
    /// A shadow lies over the page.
    Shadow,
    /// Light is mirrored on the page.
    Glare,
    /// Too few pixels for the size of the letters.
    TooSmall,
    /// Part of the page is outside the picture.
    CutOff,
    /// Too little light.
    TooDark,
    /// No writing was found.
    Blank,
}

/// One check of fitness: the figure, its limit, and whether it passed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct FitCheck {
    /// What was checked.
    pub fault: FitFault,
    /// The figure, on the check's own scale.
    pub figure: f64,
    /// The limit that the figure is held against.
    pub limit: f64,
    /// Whether the page passed.
    pub passed: bool,
}

/// Whether a photograph can be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Fitness {
    /// Every check made, passed or not.
    pub checks: Vec<FitCheck>,
}

impl Fitness {
    /// Whether every check passed.
    pub fn fit(&self) -> bool {
        self.checks.iter().all(|check| check.passed)
    }
}

/// The ruling as found on the page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct RulingFound {
    /// Distance of one written line from the next.
    pub pitch: Mm,
    /// Each written line as (left end, right end).
    pub rules: Vec<(PointMm, PointMm)>,
}

/// The height class of a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum LetterClass {
    /// x-height only.
    Short,
    /// Reaches above the short letters.
    Tall,
    /// Reaches below the baseline.
    Tail,
    /// Capital, digit, punctuation, or several letters in one piece.
    Other,
}

/// A line of writing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Line {
    /// All ink of the line.
    pub bounds: BoxMm,
    /// Where the letters stand, left to right.
    pub baseline: Vec<PointMm>,
    /// Top of the short letters above the baseline; `None` where there are too few.
    pub x_height: Option<Mm>,
    /// Slope against the ruling, + climbs; `None` on a short line.
    pub drift: Option<Degrees>,
}

/// A word.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Word {
    /// Index into the reading's lines.
    pub line: usize,
    /// All ink of the word.
    pub bounds: BoxMm,
    /// The word as known from the text; `None` where it is not known.
    pub text: Option<String>,
    /// Whether the word was crossed out.
    pub struck: bool,
}

/// A letter, or the piece of ink that stands where one is expected.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Letter {
    /// Index into the reading's lines.
    pub line: usize,
    /// Index into the reading's words.
    pub word: usize,
    /// Its ink; the dot of an i is not height.
    pub bounds: BoxMm,
    /// Its dot, or all marks above it.
    #[serde(default)]
    pub dot: Option<BoxMm>,
    /// Height class.
    pub class: LetterClass,
    /// The letter as known from the text; `None` where it is not known.
    pub char: Option<char>,
    /// 0 to 1: how sure the engine is that this ink is this letter.
    pub confidence: Ratio,
    /// Lean of its downstroke where it has a measurable one.
    pub slant: Option<Degrees>,
    /// Where it stands: the baseline under its middle. `None` in readings before engine 0.3.
    #[serde(default)]
    pub foot: Option<PointMm>,
    /// Top of its body above that: of a tall letter the round or arched part, of others their ink.
    /// `None` where it has no body, or it could not be told.
    #[serde(default)]
    pub body: Option<Mm>,
    /// Whether its bowl is closed; `None` for a letter without one and where that cannot be seen.
    #[serde(default)]
    pub bowl: Option<Bowl>,
    /// What its shape reads as; `None` where nothing may be said of it.
    #[serde(default)]
    pub reads: Option<Reads>,
    /// What is amiss with its form.
    #[serde(default)]
    pub faults: Vec<Fault>,
    /// Whether a person put its place or a finding about it right.
    #[serde(default)]
    pub by_hand: bool,
}

impl Letter {
    /// A letter that the engine is less sure of is shown as unsure, and counts in no letter measure.
    pub const SURE: Ratio = Ratio(0.5);

    /// Whether the engine, or a person, is sure of it. What a person says is no letter has no
    /// confidence at all.
    pub fn is_sure(&self) -> bool {
        self.confidence >= Self::SURE || (self.by_hand && self.confidence > Ratio(0.0))
    }
}

/// What a letter's shape reads as, by itself, whatever the word says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Reads {
    /// Probability that it reads as the letter meant.
    pub as_meant: Ratio,
    /// What else it may read as, most probably; `None` where that is no letter.
    pub other: Option<char>,
    /// Probability of that.
    pub other_share: Ratio,
}

/// One thing amiss with a letter's form.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Fault {
    /// What.
    pub kind: FaultKind,
    /// Its figure, as the kind says; `None` where a person saw it.
    pub figure: Option<Ratio>,
}

/// What can be amiss with a letter's form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum FaultKind {
    /// Its bowl is left open. Darkness of its ring at the lightest place, 0 to 1.
    Open,
    /// An e without an eye. White enclosed, in squares of the x-height.
    EyeClosed,
    /// Turned round, as in a mirror. Probability that it reads so.
    Reversed,
    /// In two parts, so that a d reads as cl. White between the parts, in x-heights.
    Apart,
    /// An i or j without a dot. Height that was searched for it, in x-heights.
    NoDot,
    /// A t or f without its bar. Ink that crosses the stem, in x-heights.
    NoBar,
    /// A tall letter that does not clear the short ones. Its height, in x-heights.
    NotTall,
    /// A tail that does not cross the line. Its depth, in x-heights.
    NotBelow,
    /// A bowl that closes too high. Top of its white above the baseline, in x-heights.
    HighBowl,
    /// Reads as another letter. Probability of that.
    ReadsAsOther,
}

/// The round part of a letter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Bowl {
    /// Whether it is left open.
    pub open: bool,
    /// How dark its ring is at the lightest place: 1 as its strokes, 0 as the paper.
    pub ring: Ratio,
}

/// How a letter is joined to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum JoinVerdict {
    /// Joined where the join belongs.
    Joined,
    /// Not joined.
    Missing,
    /// Joined, but at the wrong height: from the top of a letter by way of the baseline, or high from
    /// a letter that is left at the bottom.
    WrongHeight,
}

/// A join that the hand which is taught expects.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Join {
    /// Index of the letter that it begins at, into the reading's letters; the next letter is the one
    /// that it leads to.
    pub left: usize,
    /// How it is joined.
    pub verdict: JoinVerdict,
    /// Its lowest place above the baseline, in x-heights; `None` where nothing leads across.
    pub height: Option<Ratio>,
    /// Whether a person said so.
    #[serde(default)]
    pub by_hand: bool,
}

/// How a mistake was put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum CorrectionKind {
    /// Struck through once.
    StruckOnce,
    /// Struck through many times.
    StruckManyTimes,
    /// Written over.
    WrittenOver,
    /// Put in brackets.
    Bracketed,
}

/// A correction found on the page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Correction {
    /// How it was done.
    pub kind: CorrectionKind,
    /// All ink of the word and of the mark over it.
    pub bounds: BoxMm,
    /// Whether a person said so.
    #[serde(default)]
    pub by_hand: bool,
}

/// How the known text goes with the ink.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct TextFit {
    /// Whether it is the text of this page. If not, no letter is told from it.
    pub fits: bool,
    /// Letters of the text; spaces are not counted.
    pub letters: u32,
    /// Letters whose ink was found surely.
    pub found: u32,
    /// Lines, by their index, whose ink reads as another text; their letters count nowhere.
    #[serde(default)]
    pub other_lines: Vec<usize>,
    /// Letters of the text that no ink was found for, at most 400.
    pub skipped: Vec<Skipped>,
    /// Ink beyond the text's, not crossed out, that may be letters too many; at most 400.
    pub extra: Vec<BoxMm>,
}

/// A letter of the text that no ink was found for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Skipped {
    /// Index into the reading's lines.
    pub line: usize,
    /// The letter.
    pub letter: char,
    /// Where it would stand.
    pub at: BoxMm,
}

/// Why a measure was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum WhyNot {
    /// The page has no ruling to hold it against.
    NoRuling,
    /// Too few letters of the kind needed.
    TooFewLetters,
    /// Too few words.
    TooFewWords,
    /// No line is long enough.
    LinesTooShort,
    /// No lower-case o, nor a letter of its width, was found.
    NoO,
    /// Letters could not be told apart in joined writing.
    LettersNotApart,
    /// The text is needed and not known.
    NeedsText,
    /// Nobody timed the page.
    NotTimed,
    /// The text is not that of this page.
    TextDoesNotFit,
    /// The letter model joins no letters.
    NoJoins,
}

/// What came of trying to measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(tag = "outcome", rename_all = "camelCase")]
pub enum Outcome {
    /// A figure.
    Measured {
        /// The value in the measure's unit.
        value: f64,
        /// Standard error of measuring this page, same unit.
        se: f64,
        /// How much the single letters, words or lines differ (their standard deviation), same
        /// unit; `None` for measures that are themselves a spread or a count.
        spread: Option<f64>,
        /// How many letters, words or lines it rests on.
        n: u32,
        /// Where on the page; at most 400, the most telling first.
        places: Vec<BoxMm>,
    },
    /// No figure.
    NotMeasured {
        /// The reason.
        because: WhyNot,
    },
}

/// One measure of a page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Measure {
    /// Which.
    pub name: MeasureName,
    /// What came of it.
    #[serde(flatten)]
    pub outcome: Outcome,
    /// Whether it would be another figure, had nobody put anything right on the page.
    #[serde(default)]
    pub by_hand: bool,
}

/// All that the engine found on one page. The same page gives the same reading on every platform.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Reading {
    /// Engine name and version.
    pub engine: String,
    /// How the sheet lies in the photograph.
    pub frame: Frame,
    /// Whether the photograph could be read.
    pub fitness: Fitness,
    /// The ruling found; `None` on plain paper or where none was found.
    pub ruling: Option<RulingFound>,
    /// Lines, top to bottom.
    pub lines: Vec<Line>,
    /// Words, line by line.
    pub words: Vec<Word>,
    /// Letters, word by word.
    pub letters: Vec<Letter>,
    /// Joins that are expected, letter by letter; empty where the writing is not joined or its text
    /// not known.
    #[serde(default)]
    pub joins: Vec<Join>,
    /// Corrections, top to bottom.
    pub corrections: Vec<Correction>,
    /// How the text goes with the ink; `None` where it is not known.
    #[serde(default)]
    pub text: Option<TextFit>,
    /// Every measure of [`MeasureName::ALL`], once each, in that order.
    pub measures: Vec<Measure>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(x0: f64, y0: f64, x1: f64, y1: f64) -> BoxMm {
        BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        }
    }

    #[test]
    fn a_union_reaches_as_far_as_either() {
        let (a, b) = (place(1.0, 5.0, 3.0, 6.0), place(2.0, 1.0, 2.5, 9.0));
        assert_eq!(a.union(&b), place(1.0, 1.0, 3.0, 9.0));
        assert_eq!(b.union(&a), a.union(&b));
    }

    #[test]
    fn an_overlap_is_what_is_shared_of_what_is_covered() {
        let a = place(0.0, 0.0, 2.0, 2.0);
        assert_eq!(a.overlap(&a), Ratio(1.0));
        // 2 of 4 + 4 - 2, and a quarter of it.
        assert_eq!(a.overlap(&place(1.0, 0.0, 3.0, 2.0)), Ratio(1.0 / 3.0));
        assert_eq!(a.overlap(&place(0.0, 0.0, 1.0, 1.0)), Ratio(0.25));
        // Side by side, and apart both ways at once.
        assert_eq!(a.overlap(&place(2.0, 0.0, 4.0, 2.0)), Ratio(0.0));
        assert_eq!(a.overlap(&place(5.0, 5.0, 6.0, 6.0)), Ratio(0.0));
    }

    #[test]
    fn what_covers_nothing_shares_nothing() {
        let none = place(1.0, 1.0, 1.0, 1.0);
        assert_eq!(none.overlap(&none), Ratio(0.0));
        let turned = place(2.0, 2.0, 0.0, 0.0);
        assert_eq!(turned.overlap(&place(0.0, 0.0, 2.0, 2.0)), Ratio(0.0));
        let nan = f64::NAN;
        assert_eq!(none.overlap(&place(nan, nan, nan, nan)), Ratio(0.0));
    }
}
