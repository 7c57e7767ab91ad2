//! Letters as found on a page: how each is formed, how it is joined, and how the known text goes with them.

use serde::{Deserialize, Serialize};

use crate::{BoxMm, Degrees, Mm, PointMm, Ratio};

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
