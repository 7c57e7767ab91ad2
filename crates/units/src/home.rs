//! What happens at home between lessons, and what tutor and parents say to each other.

use serde::{Deserialize, Serialize};

use crate::{
    AskId, Day, DeviceId, MarkId, MeasureName, Moment, PageId, PractisedId, ReplyId, SetUpId,
    TaskId,
};

/// Practice that was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Practised {
    /// Its id.
    pub id: PractisedId,
    /// The day.
    pub day: Day,
    /// Whole minutes.
    pub minutes: u16,
    /// The task that was practised, if it was one.
    pub task: Option<TaskId>,
}

/// What is looked at before writing begins. Prompts, never scored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum SetUpItem {
    /// Feet rest on the floor or on something firm.
    Feet,
    /// Hips are well back on the seat.
    Seat,
    /// The table is about as high as the elbows.
    Table,
    /// The paper is turned for the hand that writes.
    Paper,
    /// Light falls from the side away from the hand.
    Light,
    /// The pencil is held without strain.
    Hold,
    /// The other hand keeps the paper still.
    OtherHand,
}

/// How the child sat, as somebody looked before writing began.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct SetUpCheck {
    /// Its id.
    pub id: SetUpId,
    /// The day.
    pub day: Day,
    /// What was as it should be.
    pub fine: Vec<SetUpItem>,
    /// What was not, or not yet.
    pub not_yet: Vec<SetUpItem>,
}

/// An answer to a page or to a mark on it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Reply {
    /// Its id.
    pub id: ReplyId,
    /// The page.
    pub page: PageId,
    /// The mark that it answers, if it is one.
    pub mark: Option<MarkId>,
    /// The words.
    pub words: String,
    /// When it was written.
    pub made_at: Moment,
    /// Who wrote it.
    pub by: DeviceId,
}

/// What a family asks the tutor to forget.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(tag = "what", rename_all = "camelCase")]
pub enum AskedFor {
    /// One page, with all that belongs to it.
    Page {
        /// The page.
        page: PageId,
    },
    /// All that is kept of the pupil.
    Everything,
}

/// A family's wish that something be forgotten.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Ask {
    /// Its id.
    pub id: AskId,
    /// What.
    pub wish: AskedFor,
    /// When it was asked.
    pub made_at: Moment,
    /// Who asked.
    pub by: DeviceId,
}

/// Where a measure is to go.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Target {
    /// The measure.
    pub measure: MeasureName,
    /// Its value, in the measure's unit.
    pub value: f64,
    /// By which day, if one was said.
    pub by: Option<Day>,
}
