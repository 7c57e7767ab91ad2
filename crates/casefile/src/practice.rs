//! The tutor's private practice book: the list of pupils and notes about them.
//!
//! Its documents are [`BookKind::Practice`](crate::BookKind::Practice) and go to the tutor's own
//! devices only; a case file refuses them.

use std::collections::BTreeMap;

use units::{DeviceId, PupilId};

use crate::author_doc::Value;
use crate::books::Books;
use crate::edit::Puts;
use crate::merged::Merged;
use crate::view::string;
use crate::{Accepted, DocId, MAX_PUPILS, Refused, SignedChange, Signer, WriteRefused, bounds};

/// What the tutor does with the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PracticeEdit {
    /// Puts a pupil at the end of the list.
    AddPupil(PupilId),
    /// Takes a pupil off the list; the notes are no longer shown.
    RemovePupil(PupilId),
    /// Puts the list in this order. Pupils left out follow in the order they had.
    SetOrder(Vec<PupilId>),
    /// Sets the private note on a pupil; an empty one removes it.
    SetNote {
        /// The pupil.
        pupil: PupilId,
        /// The note.
        note: String,
    },
}

/// The list as all of the tutor's devices have it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PracticeView {
    /// Pupils in order.
    pub pupils: Vec<PupilId>,
    /// Notes on pupils of the list; none is empty.
    pub notes: BTreeMap<PupilId, String>,
    /// Something here was written by a newer version of the program and is not shown.
    pub newer: bool,
}

/// The practice book.
#[derive(Debug, Clone)]
pub struct PracticeBook {
    tutor: Vec<DeviceId>,
    books: Books,
}

impl PracticeBook {
    /// An empty book of the tutor who has these devices.
    pub fn new(tutor: Vec<DeviceId>) -> Self {
        Self {
            tutor,
            books: Books::default(),
        }
    }

    /// The tutor's devices.
    pub fn tutor(&self) -> &[DeviceId] {
        &self.tutor
    }

    /// Says anew which devices are the tutor's; what was accepted stays.
    pub fn set_tutor(&mut self, tutor: Vec<DeviceId>) {
        self.tutor = tutor;
    }

    /// Takes a change of one of the tutor's devices. A refused change alters nothing.
    pub fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        self.accept_all([change]).remove(0)
    }

    /// Takes many changes at once, as when opening.
    pub fn accept_all<'a>(
        &mut self,
        changes: impl IntoIterator<Item = &'a SignedChange>,
    ) -> Vec<Result<Accepted, Refused>> {
        let tutor = &self.tutor;
        let against = |doc: DocId| {
            if doc != DocId::practice(doc.author) {
                return Some(Refused::WrongPupil);
            }
            (!tutor.contains(&doc.author)).then_some(Refused::NotAMember)
        };
        let changes = changes.into_iter();
        self.books
            .accept_all(changes.map(|change| (change, against(change.doc))))
    }

    /// Writes an edit into the signer's own document.
    pub fn write(
        &mut self,
        signer: &Signer,
        edit: PracticeEdit,
    ) -> Result<SignedChange, WriteRefused> {
        let device = signer.device();
        if !self.tutor.contains(&device) {
            return Err(WriteRefused::NotAMember);
        }
        let merged = Merged::of(&self.books);
        let view = view(&merged);
        let mut puts = Puts::at(merged.time + 1);
        let listed = |pupil: &PupilId| match view.pupils.contains(pupil) {
            true => Ok(()),
            false => Err(WriteRefused::Missing("pupil")),
        };
        match edit {
            PracticeEdit::AddPupil(pupil) => {
                if listed(&pupil).is_ok() {
                    return Err(WriteRefused::AlreadyThere("pupil"));
                }
                let mut order = view.pupils.clone();
                order.push(pupil);
                puts.register(&format!("pupil/{pupil}"), Value::Flag(true));
                put_order(&mut puts, &order)?;
            }
            PracticeEdit::RemovePupil(pupil) => {
                listed(&pupil)?;
                puts.register(&format!("pupil/{pupil}"), Value::Flag(false));
            }
            PracticeEdit::SetOrder(mut order) => {
                order.iter().try_for_each(listed)?;
                let left_out = view.pupils.iter().filter(|pupil| !order.contains(pupil));
                let left_out: Vec<PupilId> = left_out.copied().collect();
                order.extend(left_out);
                put_order(&mut puts, &order)?;
            }
            PracticeEdit::SetNote { pupil, note } => {
                listed(&pupil)?;
                bounds::words("the note", &note)?;
                puts.register(&format!("note/{pupil}"), Value::Text(note));
            }
        }
        self.books
            .write(signer, DocId::practice(device), puts.into_vec())
    }

    /// The list and the notes.
    pub fn view(&self) -> PracticeView {
        view(&Merged::of(&self.books))
    }

    /// The highest sequence number of every document that has any change.
    pub fn have(&self) -> BTreeMap<DocId, u64> {
        self.books.have()
    }
}

fn put_order(puts: &mut Puts, order: &[PupilId]) -> Result<(), WriteRefused> {
    if order.len() > MAX_PUPILS {
        return Err(WriteRefused::TooLong {
            what: "the list of pupils",
            limit: MAX_PUPILS,
        });
    }
    let bytes = order.iter().flat_map(|pupil| pupil.0).collect();
    puts.register("order", Value::Bytes(bytes));
    Ok(())
}

fn view(merged: &Merged<'_>) -> PracticeView {
    let flag = |value: &Value| match value {
        Value::Flag(flag) => Some(*flag),
        _ => None,
    };
    let listed: Vec<PupilId> = merged
        .registers_under("pupil/")
        .filter(|id| merged.register(&format!("pupil/{id}"), flag) == Some(true))
        .filter_map(|id| id.parse().ok())
        .collect();
    let order = merged.register("order", ids).unwrap_or_default();
    let place = |pupil: &PupilId| order.iter().position(|other| other == pupil);
    let mut pupils = listed;
    // Pupils that another device added meanwhile stand at the end, by id.
    pupils.sort_by_key(|pupil| (place(pupil).unwrap_or(usize::MAX), *pupil));
    let notes = pupils.iter().filter_map(|pupil| {
        let note = merged.register(&format!("note/{pupil}"), string)?;
        (!note.is_empty() && bounds::words("the note", &note).is_ok()).then_some((*pupil, note))
    });
    PracticeView {
        notes: notes.collect(),
        pupils,
        newer: merged.newer,
    }
}

fn ids(value: &Value) -> Option<Vec<PupilId>> {
    let Value::Bytes(bytes) = value else {
        return None;
    };
    let (ids, rest) = bytes.as_chunks::<16>();
    (rest.is_empty() && ids.len() <= MAX_PUPILS)
        .then(|| ids.iter().map(|id| PupilId(*id)).collect())
}
