//! What is known of a page before it is looked at.

use serde::{Deserialize, Serialize};

use crate::{Amendment, LetterModel, Mm};

/// A sheet's format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    A4,
    /// 148 × 210 mm (ISO 216).
    A5,
    /// 8.5 × 11 in.
    UsLetter,
}

impl Paper {
    /// Width and height, upright.
    pub fn size(self) -> (Mm, Mm) {
        match self {
            Self::A4 => (Mm(210.0), Mm(297.0)),
            Self::A5 => (Mm(148.0), Mm(210.0)),
            Self::UsLetter => (Mm(215.9), Mm(279.4)),
        }
    }
}

/// What is printed on the sheet to write on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(tag = "kind", rename_all = "camelCase")]
pub enum Ruling {
    /// Nothing.
    Plain,
    /// Single lines.
    Lines {
        /// Distance of one line from the next.
        pitch: Mm,
    },
    /// Squares.
    Squares {
        /// Side of a square.
        side: Mm,
        /// Squares from one written line to the next (1 or 2).
        every: u8,
    },
    /// Groups of several lines, one of which is written on.
    FourLine {
        /// Distance of one group from the next.
        pitch: Mm,
        /// Distance of the two inner lines, between which short letters stand.
        inner: Mm,
    },
}

impl Ruling {
    /// Distance of one written line from the next; `None` on plain paper.
    pub fn line_pitch(self) -> Option<Mm> {
        match self {
            Self::Plain => None,
            Self::Lines { pitch } | Self::FourLine { pitch, .. } => Some(pitch),
            Self::Squares { side, every } => Some(side * f64::from(every.max(1))),
        }
    }
}

/// How the text came about. Kinds are never mixed in one trend
/// (Rosenblum, Parush & Weiss 2004, Reading and Writing 17:433-458).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum TaskKind {
    /// Copied from a model.
    Copied,
    /// Written from dictation.
    Dictated,
    /// The pupil's own words.
    OwnWords,
}

/// What the measuring is told about the page it is given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Expectation {
    /// The sheet.
    pub paper: Paper,
    /// What is printed on it.
    pub ruling: Ruling,
    /// The letters that are taught.
    pub model: LetterModel,
    /// The written text line by line as an adult would type it, crossed-out words left out;
    /// `None` where it is not known. Line breaks need not match the page: the engine also accepts
    /// one running text.
    pub text: Option<Vec<String>>,
    /// Whole minutes that the writing took, where an adult timed it.
    #[serde(default)]
    pub minutes: Option<u16>,
    /// What a person has put right, oldest first.
    #[serde(default)]
    pub amendments: Vec<Amendment>,
}
