//! Letting go for good, and what is told of it.

use units::{Ask, AskId, AskedFor, Day, DeviceId, Moment, PageId, Problem, PupilId};

use super::transfer;

transfer! {
    /// Forgets pages with all that belongs to them.
    pub struct ForgetPages {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub pages: Vec<PageId>,
    }

    /// Forgets whatever was written, set or practised before a day.
    #[derive(Copy, Eq)]
    pub struct ForgetBefore {
        /// Whose.
        pub pupil: PupilId,
        /// The first day that stays.
        pub day: Day,
    }

    /// Asks the tutor to forget something.
    #[derive(Copy, Eq)]
    pub struct AskToForget {
        /// Of which pupil.
        pub pupil: PupilId,
        /// What.
        pub wish: AskedFor,
    }

    /// Names a wish.
    #[derive(Copy, Eq)]
    pub struct OfAsk {
        /// Of which pupil.
        pub pupil: PupilId,
        /// Which.
        pub ask: AskId,
    }

    /// Sets the day by which a pupil is to be erased.
    #[derive(Copy, Eq)]
    pub struct SetDeleteBy {
        /// Which pupil.
        pub pupil: PupilId,
        /// The day; `None` for none.
        pub day: Option<Day>,
    }

    /// How long a pupil is kept, how much there is, and who wishes what.
    pub struct KeepingView {
        /// The day by which everything is to be erased.
        pub delete_by: Option<Day>,
        /// Whether that day has come.
        pub due: bool,
        /// Wishes that something be forgotten, the oldest first.
        pub asks: Vec<Ask>,
        /// Bytes of the books with their history.
        pub history_bytes: f64,
        /// Day of the oldest page.
        pub oldest_page: Option<Day>,
        /// What a copy of everything made here would lack.
        pub lacks: CopyLacks,
    }

    /// What a copy of all of a pupil lacks where it is made.
    #[derive(Copy, Eq, Default)]
    pub struct CopyLacks {
        /// Pages of which the picture or the letters are not on this device.
        pub pages: u32,
        /// Something was written by a newer version of the program.
        pub newer: bool,
    }

    /// What people should hear of that happened while nobody looked.
    #[serde(tag = "notice", rename_all_fields = "camelCase")]
    pub enum Notice {
        /// Edits that came after something was forgotten, and touched it, were dropped.
        LateEditsDropped {
            /// Whose.
            pupil: PupilId,
            /// How many.
            edits: u32,
        },
        /// A pupil was erased by the tutor.
        Erased {},
        /// Changes were not taken: forged, foreign, or written after a removal.
        Refused {
            /// The device that brought them.
            from: DeviceId,
            /// The device in whose name they are.
            author: DeviceId,
            /// How many.
            changes: u32,
        },
        /// A device was removed by one that had not seen all that it had written: what came after that was
        /// let go here.
        CutOff {
            /// Whose.
            pupil: PupilId,
            /// The device that was removed.
            author: DeviceId,
            /// How many of its changes.
            changes: u32,
        },
        /// Something that was still to be done, such as wiping from the disk what was forgotten, could not be
        /// finished. What can be tried again is tried at the next occasion and the next start.
        Unfinished {
            /// Why.
            problem: Problem,
        },
    }

    /// A notice with its moment.
    pub struct NoticeRow {
        /// When.
        pub at: Moment,
        /// What.
        pub notice: Notice,
    }

    /// All notices.
    pub struct NoticeList {
        /// The newest first.
        pub notices: Vec<NoticeRow>,
    }
}
