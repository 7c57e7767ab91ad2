//! The records that a pupil's documents hold.

use serde::{Deserialize, Serialize};

use crate::{
    Aspect, BlobId, BoxMm, Day, DeviceId, FocusId, LetterModel, MarkId, Measure, Moment, PageId,
    Paper, PointMm, ReadingId, Ruling, TaskId, TaskKind,
};

/// Whose device this is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Role {
    /// The tutor's.
    Tutor,
    /// A parent's.
    Parent,
}

/// The hand that holds the pencil.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Hand {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// School year, 0 (reception) to 13.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(transparent)]
pub struct SchoolYear(pub u8);

/// What is kept of a pupil: the least that the work needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Profile {
    /// A first name or initials.
    pub name: String,
    /// School year.
    pub year: SchoolYear,
    /// Writing hand.
    pub hand: Hand,
    /// The letters that the school teaches.
    pub model: LetterModel,
    /// Usual paper.
    pub paper: Paper,
    /// Usual ruling.
    pub ruling: Ruling,
}

/// What the tutor sets for a week.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Task {
    /// Its id.
    pub id: TaskId,
    /// The day it was set.
    pub set_on: Day,
    /// How the text comes about.
    pub kind: TaskKind,
    /// The text to write, line by line; `None` for own words.
    pub text: Option<Vec<String>>,
    /// Paper to write on.
    pub paper: Paper,
    /// Its ruling.
    pub ruling: Ruling,
    /// Minutes of practice asked for.
    pub minutes: u16,
    /// The aspect to work on.
    pub focus: Option<Aspect>,
}

/// One measuring of a page, as kept in the document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct ReadingRecord {
    /// Its id.
    pub id: ReadingId,
    /// Engine name and version.
    pub engine: String,
    /// When it was made.
    pub made_at: Moment,
    /// Every measure, without places.
    pub measures: Vec<Measure>,
    /// The whole [`crate::Reading`], as a blob.
    pub detail: BlobId,
}

/// One photographed page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct PageRecord {
    /// Its id.
    pub id: PageId,
    /// The task it answers.
    pub task: Option<TaskId>,
    /// The day it was written.
    pub written_on: Day,
    /// How the text came about.
    pub kind: TaskKind,
    /// The text, line by line, where it is known.
    pub text: Option<Vec<String>>,
    /// Whole minutes that the writing took, where an adult timed it.
    #[serde(default)]
    pub minutes: Option<u16>,
    /// The sheet.
    pub paper: Paper,
    /// Its ruling.
    pub ruling: Ruling,
    /// The letters that were taught at the time.
    pub model: LetterModel,
    /// The picture of the page, cropped to the paper, without metadata.
    pub picture: BlobId,
    /// The device that added it.
    pub added_by: DeviceId,
    /// Readings, oldest first; the last one is shown.
    pub readings: Vec<ReadingRecord>,
    /// When the tutor looked at it.
    pub looked_at: Option<Moment>,
}

/// What a mark looks like. Coordinates are millimetres on the page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(tag = "shape", rename_all = "camelCase")]
pub enum MarkShape {
    /// A box around something.
    Box {
        /// The box.
        bounds: BoxMm,
    },
    /// A stroke of the pen.
    Pen {
        /// Its points in order; at most 4,000.
        points: Vec<PointMm>,
    },
    /// Only words, at a place.
    Note {
        /// The place.
        at: PointMm,
    },
}

/// What a person put on a page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Mark {
    /// Its id.
    pub id: MarkId,
    /// The page it is on.
    pub page: PageId,
    /// What it looks like.
    pub shape: MarkShape,
    /// The sentence with it; may be empty for a box or a stroke.
    pub words: String,
    /// The aspect it speaks of.
    pub aspect: Option<Aspect>,
    /// Whether it praises.
    pub praise: bool,
    /// When it was made.
    pub made_at: Moment,
    /// Who made it.
    pub by: DeviceId,
}

/// A period in which one aspect is worked on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Focus {
    /// Its id.
    pub id: FocusId,
    /// The aspect.
    pub aspect: Aspect,
    /// First day.
    pub from: Day,
    /// Last day; `None` while it goes on.
    pub to: Option<Day>,
    /// The tutor's own sentence on what to try; may be empty.
    pub try_this: String,
}
