//! What happens at home, replies, targets, and the tutor's private notes.

use casefile::{Edit, PracticeEdit};
use units::{Practised, PractisedId, Problem, Reply, ReplyId, Role, SetUpCheck, SetUpId};

use crate::App;
use crate::api::{
    AddPractised, AddReply, AddSetUp, DropPractised, DropTarget, HomeView, Nothing, OfPupil,
    SetNote, SetTarget,
};

impl App {
    /// Practice, set-up checks, replies, targets and the private note of one pupil.
    ///
    /// # Errors
    /// There is no such pupil on this device.
    pub fn home(&self, input: OfPupil) -> Result<HomeView, Problem> {
        let books = self.books(input.pupil)?;
        let note = match self.settled()?.role {
            Role::Tutor => self.practice_view()?.notes.get(&input.pupil).cloned(),
            Role::Parent => None,
        };
        Ok(HomeView {
            practised: books.practised.iter().rev().cloned().collect(),
            setups: books.setups.iter().rev().cloned().collect(),
            replies: books.replies.clone(),
            targets: books.targets.clone(),
            note,
        })
    }

    /// Notes practice that was done.
    ///
    /// # Errors
    /// The minutes are out of range, or the disk is full.
    pub fn add_practised(&self, input: AddPractised) -> Result<Nothing, Problem> {
        let practised = Practised {
            id: PractisedId(self.random()?),
            day: input.day.unwrap_or_else(|| self.today()),
            minutes: input.minutes,
            task: input.task,
        };
        let edit = Edit::AddPractised(practised);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Takes back practice that was noted by a slip, on every device.
    ///
    /// # Errors
    /// There is no such practice, or the disk is full.
    pub fn drop_practised(&self, input: DropPractised) -> Result<Nothing, Problem> {
        let edit = Edit::DropPractised(input.practised);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Notes how the child sat before writing.
    ///
    /// # Errors
    /// Nothing was looked at, or the disk is full.
    pub fn add_set_up(&self, input: AddSetUp) -> Result<Nothing, Problem> {
        let check = SetUpCheck {
            id: SetUpId(self.random()?),
            day: self.today(),
            fine: input.fine,
            not_yet: input.not_yet,
        };
        self.commit(input.pupil, vec![Edit::AddSetUp(check)], Vec::new())?;
        Ok(Nothing {})
    }

    /// Answers a page or a mark on it.
    ///
    /// # Errors
    /// There are no words, or no such page.
    pub fn add_reply(&self, input: AddReply) -> Result<Nothing, Problem> {
        let reply = Reply {
            id: ReplyId(self.random()?),
            page: input.page,
            mark: input.mark,
            words: input.words.trim().to_owned(),
            made_at: self.now(),
            by: self.id(),
        };
        self.commit(input.pupil, vec![Edit::AddReply(reply)], Vec::new())?;
        Ok(Nothing {})
    }

    /// Sets a target, or another in its place.
    ///
    /// # Errors
    /// This is not the tutor's device, or the value is none.
    pub fn set_target(&self, input: SetTarget) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::SetTarget(input.target);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Takes a target away.
    ///
    /// # Errors
    /// This is not the tutor's device.
    pub fn drop_target(&self, input: DropTarget) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::DropTarget(input.measure);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Sets the tutor's private note on a pupil.
    ///
    /// # Errors
    /// This is not the tutor's device, or the note is too long.
    pub fn set_note(&self, input: SetNote) -> Result<Nothing, Problem> {
        self.in_practice_book(PracticeEdit::SetNote {
            pupil: input.pupil,
            note: input.note.trim().to_owned(),
        })
    }
}
