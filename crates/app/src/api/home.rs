//! What happens at home, replies, targets, and the tutor's private notes.

use units::{
    Day, MarkId, MeasureName, PageId, Practised, PupilId, Reply, SetUpCheck, SetUpItem, Target,
    TaskId,
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
