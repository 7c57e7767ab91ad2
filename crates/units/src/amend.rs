//! What a person puts right in a reading.

use serde::{Deserialize, Serialize};

use crate::{AmendmentId, BoxMm, CorrectionKind, DeviceId, FaultKind, JoinVerdict, Moment, PageId};

/// One thing put right. It names its letter by place and character, and all else by place, not by number, so
/// that it holds for every later reading of the page.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(
    tag = "about",
    rename_all = "camelCase",
    rename_all_fields = "camelCase"
)]
pub enum Amendment {
    /// The ink in `bounds` is this letter, wherever the engine saw it.
    Letter {
        /// Which letter of the text: the engine's place for it, or where it was expected.
        at: BoxMm,
        /// The letter.
        letter: char,
        /// Where its ink is; `None` where no ink is this letter, which then counts nowhere.
        bounds: Option<BoxMm>,
    },
    /// A letter has, or has not, a fault of form.
    Fault {
        /// The letter's place.
        at: BoxMm,
        /// The letter.
        letter: char,
        /// The fault.
        fault: FaultKind,
        /// Whether it is there.
        there: bool,
    },
    /// A letter reads as meant, or does not.
    Reads {
        /// The letter's place.
        at: BoxMm,
        /// The letter.
        letter: char,
        /// Whether a person reads it as the letter meant.
        as_meant: bool,
    },
    /// How a letter is joined to the next.
    Join {
        /// The place of the letter that the join begins at.
        at: BoxMm,
        /// That letter.
        letter: char,
        /// How it is joined.
        verdict: JoinVerdict,
    },
    /// How the pupil put a mistake right here; `None` where nothing was put right.
    Correction {
        /// Where.
        at: BoxMm,
        /// How.
        kind: Option<CorrectionKind>,
    },
    /// The ink in this place is no writing of the pupil's: a drawing, a stamp, another's hand. It counts
    /// nowhere.
    NotWriting {
        /// Where.
        at: BoxMm,
    },
    /// One line of writing stands here, whatever the engine saw.
    Line {
        /// Round its writing.
        at: BoxMm,
    },
}

impl Amendment {
    /// A letter that found no ink is meant where it would stand within so many x-heights.
    pub const NEAR: f64 = 2.0;

    /// Whether this is about the sheet, and so about whatever is read on it, rather than about one letter or
    /// correction.
    pub fn is_of_sheet(&self) -> bool {
        matches!(self, Self::NotWriting { .. } | Self::Line { .. })
    }
}

/// Something put right, as kept in the tutor's book.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct AmendmentRecord {
    /// Its id.
    pub id: AmendmentId,
    /// The page it is on.
    pub page: PageId,
    /// What it says.
    pub what: Amendment,
    /// When it was made; of two about the same, the later holds.
    pub made_at: Moment,
    /// Who made it.
    pub by: DeviceId,
}
