//! What was measured on a page, and where.

use serde::{Deserialize, Serialize};

use crate::{BoxMm, Degrees, Join, Letter, MeasureName, Mesh, Mm, PointMm, Ratio, TextFit};

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
