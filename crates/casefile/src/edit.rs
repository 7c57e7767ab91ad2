//! What a person can do.

mod puts;

use units::{
    AmendmentId, AmendmentRecord, Ask, AskId, Day, DeviceId, Focus, FocusId, Mark, MarkId,
    MeasureName, Moment, PageId, PageRecord, Practised, PractisedId, Profile, ReadingRecord, Reply,
    Ruling, SetUpCheck, Target, Task,
};

pub(crate) use puts::{Puts, Writer, puts};

/// One thing that a person does; one change of the document.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Sets the profile; only the fields that differ are written. Tutor only.
    SetProfile(Profile),
    /// Sets a task or alters one; only the fields that differ are written. Tutor only.
    SetTask(Task),
    /// Adds a page with its text and readings.
    AddPage(PageRecord),
    /// Adds a reading of a page.
    AddReading {
        /// The page.
        page: PageId,
        /// The reading.
        reading: ReadingRecord,
    },
    /// Sets the text of a page; `None` where it is not known.
    SetText {
        /// The page.
        page: PageId,
        /// The text, line by line.
        text: Option<Vec<String>>,
    },
    /// Sets the whole minutes that writing a page took; `None` where nobody timed it.
    SetMinutes {
        /// The page.
        page: PageId,
        /// The minutes.
        minutes: Option<u16>,
    },
    /// Says which ruling a page was written on.
    SetRuling {
        /// The page.
        page: PageId,
        /// The ruling.
        ruling: Ruling,
    },
    /// Says whether a page stands as part of the starting point. Tutor only.
    SetStarting {
        /// The page.
        page: PageId,
        /// Whether it does.
        starting: bool,
    },
    /// Says whether the family sees letter findings before the tutor has looked. Tutor only.
    AllowLetters(bool),
    /// Notes that the tutor looked at a page. Tutor only.
    LookAt {
        /// The page.
        page: PageId,
        /// When.
        at: Moment,
    },
    /// Puts a mark on a page; pen points are kept to a hundredth of a millimetre. Tutor only.
    AddMark(Mark),
    /// Alters what a mark says, its kind, aspect or shape, all in one; its page, moment and maker stay. Tutor
    /// only.
    ChangeMark(Mark),
    /// Removes a mark. Tutor only.
    RemoveMark(MarkId),
    /// Puts something right in the reading of a page. Tutor only.
    Amend(AmendmentRecord),
    /// Takes back what was put right. Tutor only.
    TakeBack(AmendmentId),
    /// Starts a focus period. Tutor only.
    StartFocus(Focus),
    /// Sets the last day of a focus period. Tutor only.
    EndFocus {
        /// The focus.
        focus: FocusId,
        /// Its last day.
        on: Day,
    },
    /// Sets a target for its measure, or another in its place. Tutor only.
    SetTarget(Target),
    /// Takes the target of a measure away. Tutor only.
    DropTarget(MeasureName),
    /// Sets the day by which the pupil is to be erased. Tutor only.
    SetDeleteBy(Option<Day>),
    /// Says what a device is called. Tutor only.
    NameDevice {
        /// The device.
        device: DeviceId,
        /// Its name.
        name: String,
    },
    /// Notes practice that was done.
    AddPractised(Practised),
    /// Takes back practice that was noted by a slip.
    DropPractised(PractisedId),
    /// Notes how the child sat.
    AddSetUp(SetUpCheck),
    /// Answers a page or a mark.
    AddReply(Reply),
    /// Takes a page out: it is shown no longer, and gone for good when the books are next founded
    /// anew.
    TakePageOut(PageId),
    /// Asks the tutor to forget something.
    AskToForget(Ask),
    /// Puts a wish aside. Tutor only.
    PutAskAside(AskId),
}

impl Edit {
    /// Whether parents may do it too.
    fn is_everybodys(&self) -> bool {
        matches!(
            self,
            Self::AddPage(_)
                | Self::AddReading { .. }
                | Self::SetText { .. }
                | Self::SetMinutes { .. }
                | Self::SetRuling { .. }
                | Self::AddPractised(_)
                | Self::DropPractised(_)
                | Self::AddSetUp(_)
                | Self::AddReply(_)
                | Self::TakePageOut(_)
                | Self::AskToForget(_)
        )
    }
}
