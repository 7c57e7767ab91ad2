//! A pupil's case file: both books, and who may write in them.

use std::collections::BTreeMap;

use units::{DeviceId, PupilId, Role};

use crate::books::Books;
use crate::edit::{self, Writer};
use crate::merged::Merged;
use crate::{
    Accepted, BookKind, DocId, Edit, PupilView, Refused, SignedChange, Signer, WriteRefused,
};

/// Which devices may write: the tutor's in the tutor's book, the parents' in the home book.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Roster {
    /// The tutor's devices.
    pub tutor: Vec<DeviceId>,
    /// The parents' devices.
    pub parents: Vec<DeviceId>,
}

impl Roster {
    /// Whose device it is; `None` if it is on no list.
    pub fn role(&self, device: DeviceId) -> Option<Role> {
        if self.tutor.contains(&device) {
            Some(Role::Tutor)
        } else if self.parents.contains(&device) {
            Some(Role::Parent)
        } else {
            None
        }
    }

    fn may_write(&self, device: DeviceId, book: BookKind) -> bool {
        match book {
            BookKind::Tutor => self.tutor.contains(&device),
            BookKind::Home => self.parents.contains(&device),
            BookKind::Practice => false,
        }
    }
}

/// One pupil's books.
#[derive(Debug, Clone)]
pub struct CaseFile {
    pupil: PupilId,
    roster: Roster,
    books: Books,
}

impl CaseFile {
    /// An empty case file.
    pub fn new(pupil: PupilId, roster: Roster) -> Self {
        Self {
            pupil,
            roster,
            books: Books::default(),
        }
    }

    /// The pupil.
    pub fn pupil(&self) -> PupilId {
        self.pupil
    }

    /// Who may write.
    pub fn roster(&self) -> &Roster {
        &self.roster
    }

    /// Says anew who may write from now on; what was accepted stays.
    pub fn set_roster(&mut self, roster: Roster) {
        self.roster = roster;
    }

    /// Takes a change written here or elsewhere. A refused change alters nothing.
    pub fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        self.accept_all([change]).remove(0)
    }

    /// Takes many changes at once, as when opening; far quicker than one after the other, and with
    /// the same outcomes, in the same order.
    pub fn accept_all<'a>(
        &mut self,
        changes: impl IntoIterator<Item = &'a SignedChange>,
    ) -> Vec<Result<Accepted, Refused>> {
        let (pupil, roster) = (self.pupil, &self.roster);
        let changes = changes
            .into_iter()
            .map(|change| (change, against(pupil, roster, &change.doc)));
        self.books.accept_all(changes)
    }

    /// Writes an edit into the signer's own document. The change is to be kept before anybody is
    /// told that the edit was made.
    pub fn write(&mut self, signer: &Signer, edit: Edit) -> Result<SignedChange, WriteRefused> {
        let device = signer.device();
        let role = self.roster.role(device).ok_or(WriteRefused::NotAMember)?;
        let book = match role {
            Role::Tutor => BookKind::Tutor,
            Role::Parent => BookKind::Home,
        };
        let doc = DocId {
            pupil: self.pupil,
            book,
            author: device,
        };
        let merged = Merged::of(&self.books);
        let writer = Writer {
            role,
            device,
            time: merged.time + 1,
        };
        let puts = edit::puts(&edit, &writer, &merged)?;
        self.books.write(signer, doc, puts)
    }

    /// What all books say together.
    pub fn view(&self) -> PupilView {
        PupilView::of(&Merged::of(&self.books))
    }

    /// The highest sequence number of every document that has any change.
    pub fn have(&self) -> BTreeMap<DocId, u64> {
        self.books.have()
    }
}

/// Why this author may not write this document.
fn against(pupil: PupilId, roster: &Roster, doc: &DocId) -> Option<Refused> {
    if doc.pupil != pupil || doc.book == BookKind::Practice {
        return Some(Refused::WrongPupil);
    }
    (!roster.may_write(doc.author, doc.book)).then_some(Refused::NotAMember)
}
