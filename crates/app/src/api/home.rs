//! What happens at home, replies, targets, and the tutor's private notes.

use units::{
    Day, Lesson, MarkId, MeasureName, Mm, PageId, Practised, PractisedId, PupilId, Reply,
    SetUpCheck, SetUpItem, Target, TaskId,
};

use super::transfer;

transfer! {
    /// Notes practice that was done.
    #[derive(Copy, Eq)]
    pub struct AddPractised {
        /// Whose.
        pub pupil: PupilId,
        /// The day; today where not said.
        pub day: Option<Day>,
        /// Whole minutes.
        pub minutes: u16,
        /// The task, if it was one.
        pub task: Option<TaskId>,
    }

    /// Takes back practice that was noted by a slip.
    #[derive(Copy, Eq)]
    pub struct DropPractised {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub practised: PractisedId,
    }

    /// Notes how the child sat.
    #[derive(Eq)]
    pub struct AddSetUp {
        /// Whose.
        pub pupil: PupilId,
        /// What was as it should be.
        pub fine: Vec<SetUpItem>,
        /// What was not yet.
        pub not_yet: Vec<SetUpItem>,
    }

    /// Answers a page or a mark.
    #[derive(Eq)]
    pub struct AddReply {
        /// Whose.
        pub pupil: PupilId,
        /// The page.
        pub page: PageId,
        /// The mark, if it answers one.
        pub mark: Option<MarkId>,
        /// The words.
        pub words: String,
    }

    /// A child's height, to look up seat and table; never kept.
    #[derive(Copy)]
    pub struct FurnitureFor {
        /// The height in millimetres, without shoes.
        pub height_mm: Mm,
    }

    /// Sizes that fit.
    pub struct FurnitureSizes {
        /// From the smallest; none for a height outside the table.
        pub sizes: Vec<Furniture>,
    }

    /// A size of school furniture by EN 1729-1.
    #[derive(Copy)]
    pub struct Furniture {
        /// The standard's size mark, 1 to 6.
        pub mark: u8,
        /// For children from this height.
        pub height_from: Mm,
        /// For children to this height.
        pub height_to: Mm,
        /// Height of the seat.
        pub seat: Mm,
        /// Height of the table top.
        pub table: Mm,
    }

    /// When this device reminds of the weekly page.
    #[derive(Copy, Eq)]
    pub struct ReminderView {
        /// When; `None` where it does not.
        pub at: Option<Lesson>,
        /// Whether the program around this screen can show the system's notifications.
        pub possible: bool,
    }

    /// Sets when this device reminds of the weekly page.
    #[derive(Copy, Eq)]
    pub struct SetReminder {
        /// When; `None` for never.
        pub at: Option<Lesson>,
    }

    /// Names a draft.
    #[derive(Eq)]
    pub struct OfDraft {
        /// What it is for; ids in it stand between slashes.
        pub key: String,
    }

    /// Half-typed words.
    #[derive(Eq)]
    pub struct Draft {
        /// The words; `None` where there are none.
        pub text: Option<String>,
    }

    /// Keeps half-typed words on this device.
    #[derive(Eq)]
    pub struct KeepDraft {
        /// What they are for; ids in it stand between slashes, so that they go with what they name.
        pub key: String,
        /// The words; empty to let them go.
        pub text: String,
    }

    /// Sets a target.
    pub struct SetTarget {
        /// Whose.
        pub pupil: PupilId,
        /// The target.
        pub target: Target,
    }

    /// Takes a target away.
    #[derive(Copy, Eq)]
    pub struct DropTarget {
        /// Whose.
        pub pupil: PupilId,
        /// Of which measure.
        pub measure: MeasureName,
    }

    /// Sets the tutor's private note on a pupil.
    #[derive(Eq)]
    pub struct SetNote {
        /// Which.
        pub pupil: PupilId,
        /// The note; an empty one removes it.
        pub note: String,
    }

    /// What happened at home, and what is aimed at.
    pub struct HomeView {
        /// Practice, the newest first.
        pub practised: Vec<Practised>,
        /// Looks at how the child sat, the newest first.
        pub setups: Vec<SetUpCheck>,
        /// Replies, the oldest first.
        pub replies: Vec<Reply>,
        /// Targets.
        pub targets: Vec<Target>,
        /// The tutor's private note; never on a parent's device.
        pub note: Option<String>,
    }
}
