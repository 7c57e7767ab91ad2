//! Tasks and focus periods.

use units::{Aspect, Day, FocusId, Paper, PupilId, Ruling, TaskId, TaskKind};

use super::transfer;

transfer! {
    /// Sets the week's task.
    pub struct SetTask {
        /// For whom.
        pub pupil: PupilId,
        /// How the text comes about.
        pub kind: TaskKind,
        /// The text to write, line by line; `None` for own words.
        pub text: Option<Vec<String>>,
        /// Paper; the pupil's usual one where not said.
        pub paper: Option<Paper>,
        /// Ruling; the pupil's usual one where not said.
        pub ruling: Option<Ruling>,
        /// Minutes of practice asked for, 1 to 120.
        pub minutes: u16,
        /// The aspect to work on.
        pub focus: Option<Aspect>,
        /// Day; today where not said.
        pub set_on: Option<Day>,
    }

    /// The task just set.
    pub struct TaskSet {
        /// Its id.
        pub task: TaskId,
    }

    /// Begins a focus period; one that is open ends the day before.
    pub struct StartFocus {
        /// Whose.
        pub pupil: PupilId,
        /// On what.
        pub aspect: Aspect,
        /// First day; today where not said.
        pub from: Option<Day>,
        /// The tutor's own sentence on what to try; may be empty.
        pub try_this: String,
    }

    /// The focus just begun.
    pub struct FocusStarted {
        /// Its id.
        pub focus: FocusId,
    }

    /// Ends a focus period.
    pub struct EndFocus {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub focus: FocusId,
        /// Last day; today where not said.
        pub on: Option<Day>,
    }
}
