//! Pupils.

use units::{Aspect, BlobId, Day, Focus, Lesson, PageId, Profile, PupilId, Task, TaskId, TaskKind};

use super::{Figure, News, transfer};

transfer! {
    /// Adds a pupil to the tutor's list.
    pub struct AddPupil {
        /// What is kept of the pupil.
        pub profile: Profile,
    }

    /// The pupil just added.
    pub struct AddedPupil {
        /// Its id.
        pub pupil: PupilId,
    }

    /// Changes what is kept of a pupil.
    pub struct ChangePupil {
        /// Which.
        pub pupil: PupilId,
        /// All of it, as it shall be.
        pub profile: Profile,
    }

    /// Names one pupil.
    #[derive(Copy, Eq)]
    pub struct OfPupil {
        /// Which.
        pub pupil: PupilId,
    }

    /// Sets when a pupil comes each week.
    #[derive(Copy, Eq)]
    pub struct SetLesson {
        /// Who.
        pub pupil: PupilId,
        /// When; `None` for no set time.
        pub lesson: Option<Lesson>,
    }

    /// Puts the pupils in order.
    #[derive(Eq)]
    pub struct SetOrder {
        /// The pupils; those left out follow.
        pub pupils: Vec<PupilId>,
    }

    /// Says whether the family sees letter findings before the tutor has looked.
    #[derive(Copy, Eq)]
    pub struct AllowLetters {
        /// Whose.
        pub pupil: PupilId,
        /// Whether it does.
        pub allowed: bool,
    }

    /// All pupils on this device.
    pub struct PupilList {
        /// In the tutor's own order.
        pub pupils: Vec<PupilRow>,
    }

    /// A pupil in a list.
    pub struct PupilRow {
        /// Which.
        pub pupil: PupilId,
        /// Profile; `None` until the tutor's book has arrived.
        pub profile: Option<Profile>,
        /// Pages in all.
        pub pages: u32,
        /// Day of the newest page.
        pub last_page: Option<Day>,
        /// The oldest page that the tutor has not looked at yet.
        pub next_unseen: Option<PageId>,
        /// How many pages the tutor has not looked at yet.
        pub unseen: u32,
        /// The aspect worked on now.
        pub focus: Option<Aspect>,
        /// The newest task.
        pub task: Option<Task>,
        /// Whether a page answers that task.
        pub answered: bool,
        /// How many other devices hold this pupil.
        pub devices: u32,
        /// How many wishes that something be forgotten stand open.
        pub asks: u32,
        /// The day by which the pupil is to be erased.
        pub delete_by: Option<Day>,
        /// Whether the day by which the pupil is to be erased has come.
        pub due: bool,
        /// When the pupil comes each week, by the tutor's private book.
        pub lesson: Option<Lesson>,
        /// The newest day of a lesson before today.
        pub last_lesson: Option<Day>,
        /// Whether there is a lesson today.
        pub lesson_today: bool,
        /// Pages that came in since the last lesson; without lessons, those not looked at.
        pub came: u32,
        /// What changed more than noise.
        pub news: Vec<News>,
        /// Photographs of this pupil that wait on this device to be kept or dropped.
        pub photos_waiting: u32,
    }

    /// All of one pupil.
    pub struct PupilView {
        /// Which.
        pub pupil: PupilId,
        /// Profile; `None` until the tutor's book has arrived.
        pub profile: Option<Profile>,
        /// Tasks, newest first.
        pub tasks: Vec<Task>,
        /// Pages, newest first.
        pub pages: Vec<PageRow>,
        /// Focus periods, newest first.
        pub focuses: Vec<Focus>,
        /// Whether the family sees letter findings before the tutor has looked.
        pub letters_allowed: bool,
        /// Whether some of it was written by a newer version of the program.
        pub newer: bool,
    }

    /// A page in a list.
    pub struct PageRow {
        /// Which.
        pub page: PageId,
        /// The task it answers.
        pub task: Option<TaskId>,
        /// Day it was written.
        pub written_on: Day,
        /// How the text came about.
        pub kind: TaskKind,
        /// Its picture; `None` while the picture is still to arrive.
        pub picture: Option<BlobId>,
        /// How many marks are on it.
        pub marks: u32,
        /// Whether the tutor has looked at it.
        pub looked_at: bool,
        /// Whether it stands as part of the starting point.
        pub starting: bool,
        /// Whether a device of the tutor's is known to hold it; `None` on the tutor's own.
        pub with_tutor: Option<bool>,
        /// The figures of its newest reading.
        pub figures: Vec<Figure>,
    }
}
