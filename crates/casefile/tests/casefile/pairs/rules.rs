//! What comes of every two edits that are made at once, by rules for classes of edits.
//!
//! The outcome is always that of the one after the other, the later over the earlier, and the rules say which
//! goes first. Nothing else bears on it: not who hears of which first, and no clock on the wall.
//!
//! 1. *Additions* go first: pages, readings, marks, amendments, focuses, practice, looks at how the child sat,
//!    replies, wishes. Those of different ids all stand. Of two under one id the tutor's stands, else that of
//!    the lower device, and of the other nothing. (Ids are drawn at random: only a faulty program does this.)
//! 2. *Writes* over what there is follow: by logical time, which is one more than the highest that the writer had
//!    seen; at the same time the tutor's after a family's, then the higher device's after the lower's. The last
//!    one stands whole, also where it says that there is nothing: no text, no target, no day. A profile and a
//!    task are written field by field, and only where the writer found them different.
//! 3. *Removals* go last: of pages, marks, amendments, practice, wishes. So whatever is done at once to a thing
//!    that is removed, or is put on it, does not bring it back, whoever did it and at whatever time. A page takes
//!    along what is on it: text, minutes, ruling, readings, marks, amendments, replies, and its place among those
//!    of the start. It does not take along its task, practice, or a wish that it be forgotten, for it is not
//!    forgotten until the books are founded anew. A mark does not take along the replies to it, which stand on
//!    the page; what was altered in it goes with it.
//! 4. Readings stand in the order of their logical time, then moment, then id, whoever made them.
//! 5. Whatever else two edits are about, they do not touch each other.

use casefile::Edit;
use units::DeviceId;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    Addition,
    Write,
    Removal,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    Tutor,
    Everybody,
}

/// The class of an edit, and who may do it.
pub fn rule(edit: &Edit) -> (Class, Who) {
    use Class::{Addition, Removal, Write};
    use Who::{Everybody, Tutor};
    match edit {
        Edit::AddPage(_)
        | Edit::AddReading { .. }
        | Edit::AddPractised(_)
        | Edit::AddSetUp(_)
        | Edit::AddReply(_)
        | Edit::AskToForget(_) => (Addition, Everybody),
        Edit::AddMark(_) | Edit::Amend(_) | Edit::StartFocus(_) => (Addition, Tutor),
        Edit::SetText { .. } | Edit::SetMinutes { .. } | Edit::SetRuling { .. } => {
            (Write, Everybody)
        }
        Edit::SetProfile(_)
        | Edit::SetTask(_)
        | Edit::SetStarting { .. }
        | Edit::AllowLetters(_)
        | Edit::LookAt { .. }
        | Edit::ChangeMark(_)
        | Edit::EndFocus { .. }
        | Edit::SetTarget(_)
        | Edit::DropTarget(_)
        | Edit::SetDeleteBy(_)
        | Edit::NameDevice { .. } => (Write, Tutor),
        Edit::TakePageOut(_) | Edit::DropPractised(_) => (Removal, Everybody),
        Edit::RemoveMark(_) | Edit::TakeBack(_) | Edit::PutAskAside(_) => (Removal, Tutor),
    }
}

/// The place of an edit among those that are made at once; a later one goes over an earlier.
pub type Place = (Class, u64, bool, DeviceId);

/// The place of an edit of a device, the tutor's or not, made at a logical time.
pub fn place(edit: &Edit, time: u64, tutors: bool, device: DeviceId) -> Place {
    match rule(edit).0 {
        Class::Addition => (Class::Addition, 0, !tutors, device),
        class => (class, time, tutors, device),
    }
}
