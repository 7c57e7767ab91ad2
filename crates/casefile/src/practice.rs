//! The tutor's private practice book: the list of pupils and notes about them.
//!
//! Its documents are [`BookKind::Practice`](crate::BookKind::Practice) and go to the tutor's own
//! devices only; a case file refuses them.

use std::collections::BTreeMap;

use units::{DeviceId, Lesson, PupilId, Role, Weekday};

use crate::author_doc::Value;
use crate::circle::{Circle, Settled};
use crate::edit::Puts;
use crate::log::{CircleKind, Log, Standing, Step};
use crate::merged::Merged;
use crate::view::{flag, or_nothing, string};
use crate::{
    Accepted, BookKind, DocId, FoundingId, MAX_PUPILS, Refused, SignedChange, Signer, WriteRefused,
    bounds,
};

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
    /// Sets when a pupil comes each week, or that no time is set.
    SetLesson {
        /// The pupil.
        pupil: PupilId,
        /// When.
        lesson: Option<Lesson>,
    },
}

/// The list as all of the tutor's devices have it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PracticeView {
    /// Pupils in order.
    pub pupils: Vec<PupilId>,
    /// Notes on pupils of the list; none is empty.
    pub notes: BTreeMap<PupilId, String>,
    /// When pupils of the list come.
    pub lessons: BTreeMap<PupilId, Lesson>,
    /// Something here was written by a newer version of the program and is not shown.
    pub newer: bool,
}

/// The practice book, with the log of the tutor's devices.
#[derive(Debug, Clone)]
pub struct PracticeBook {
    circle: Circle,
}

impl PracticeBook {
    /// Begins the practice of the tutor who has this device. The nonce is random. The change is the
    /// first entry of the log, from which the practice's id follows.
    pub fn begin(
        signer: &Signer,
        nonce: [u8; 16],
        paper: Option<DeviceId>,
    ) -> (Self, SignedChange) {
        let (log, first) = Log::begin(signer, CircleKind::Practice, nonce, paper);
        let circle = Circle::new(log);
        (Self { circle }, first)
    }

    /// The practice of this id of which nothing is here yet.
    pub fn new(id: PupilId) -> Self {
        let circle = Circle::new(Log::new(id));
        Self { circle }
    }

    /// Opens the book from changes that were accepted before and kept since.
    pub fn of_kept(id: PupilId, kept: Vec<SignedChange>) -> Self {
        let circle = Circle::of_kept(id, kept);
        Self { circle }
    }

    /// The practice's id.
    pub fn id(&self) -> PupilId {
        self.circle.id()
    }

    /// Which devices are the tutor's, and what the log says beside.
    pub fn standing(&self) -> &Standing {
        self.circle.standing()
    }

    /// Takes a change of one of the tutor's devices. A refused change alters nothing.
    pub fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        self.accept_all([change]).remove(0)
    }

    /// Takes many changes at once, those of the log first. Outcomes in the order given.
    pub fn accept_all<'a>(
        &mut self,
        changes: impl IntoIterator<Item = &'a SignedChange>,
    ) -> Vec<Result<Accepted, Refused>> {
        let changes: Vec<&SignedChange> = changes.into_iter().collect();
        self.circle.accept_all(&changes, &[BookKind::Practice])
    }

    /// Brings the book to what the log says by now.
    pub fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.circle.settle(signer)
    }

    /// Writes in the log that a device is the tutor's.
    pub fn admit(
        &mut self,
        signer: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        let role = Role::Tutor;
        self.circle.write_step(signer, Step::Admit { device, role })
    }

    /// Writes in the log that a device is the tutor's no longer.
    pub fn remove(
        &mut self,
        signer: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.circle.remove(signer, device)
    }

    /// Names the paper key.
    pub fn name_paper_key(
        &mut self,
        signer: &Signer,
        key: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.circle.write_step(signer, Step::Paper { key })
    }

    /// Founds the book anew without anything about these pupils. `founding` is random.
    pub fn found_anew(
        &mut self,
        signer: &Signer,
        founding: FoundingId,
        forget: &[PupilId],
    ) -> Result<Settled, WriteRefused> {
        let ids: Vec<[u8; 16]> = forget.iter().map(|pupil| pupil.0).collect();
        self.circle
            .found(signer, BookKind::Practice, founding, &ids, |_| false)
    }

    /// Whether one of the tutor's devices is to found the book anew by itself.
    pub fn owes_founding(&self) -> bool {
        self.circle.owes_founding()
    }

    /// Writes an edit into the signer's own document.
    pub fn write(
        &mut self,
        signer: &Signer,
        edit: PracticeEdit,
    ) -> Result<SignedChange, WriteRefused> {
        let device = signer.device();
        if self.standing().role(device) != Some(Role::Tutor) {
            return Err(WriteRefused::NotAMember);
        }
        let merged = self.circle.merged();
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
                // Off the list and out of the order, so that founding anew finds nothing of it there.
                let left = view.pupils.iter().filter(|other| **other != pupil);
                put_order(&mut puts, &left.copied().collect::<Vec<_>>())?;
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
            PracticeEdit::SetLesson { pupil, lesson } => {
                listed(&pupil)?;
                let value = match lesson {
                    None => Value::Nothing,
                    Some(lesson) => {
                        bounds::lesson(lesson)?;
                        let days = u64::from(Lesson::DAY) * lesson.weekday as u64;
                        Value::Uint(days + u64::from(lesson.minute))
                    }
                };
                puts.register(&format!("lesson/{pupil}"), value);
            }
        }
        self.circle
            .write(signer, BookKind::Practice, puts.into_vec())
    }

    /// The list and the notes.
    pub fn view(&self) -> PracticeView {
        view(&self.circle.merged())
    }

    /// The highest sequence number of every document that has any change, the log's among them.
    pub fn have(&self) -> BTreeMap<DocId, u64> {
        self.circle.have()
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
    let lessons = pupils.iter().filter_map(|pupil| {
        let lesson = merged.register(&format!("lesson/{pupil}"), or_nothing(lesson))??;
        Some((*pupil, lesson))
    });
    PracticeView {
        notes: notes.collect(),
        lessons: lessons.collect(),
        pupils,
        newer: merged.newer,
    }
}

fn lesson(value: &Value) -> Option<Lesson> {
    let Value::Uint(minutes) = value else {
        return None;
    };
    let weekday = usize::try_from(minutes / u64::from(Lesson::DAY)).ok()?;
    Some(Lesson {
        weekday: *Weekday::ALL.get(weekday)?,
        minute: u16::try_from(minutes % u64::from(Lesson::DAY)).ok()?,
    })
}

fn ids(value: &Value) -> Option<Vec<PupilId>> {
    let Value::Bytes(bytes) = value else {
        return None;
    };
    let (ids, rest) = bytes.as_chunks::<16>();
    (rest.is_empty() && ids.len() <= MAX_PUPILS)
        .then(|| ids.iter().map(|id| PupilId(*id)).collect())
}
