//! Carry files: what other devices have not acknowledged, for devices that do not meet.

mod acknowledging;
mod waiting;

use std::collections::{BTreeMap, BTreeSet};

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::{DocId, FoundingId, SignedChange};
use store::StoreError;
use sync::carry::{self, Opened, Parcel, Piece};
use units::{BlobId, DeviceId, Problem, PupilId};

use self::acknowledging::Acknowledged;
use crate::App;
use crate::api::{CarryFile, CarryMade, CarryOpened, Event, MakeCarry, OpenCarry};
use crate::cases::{keep, names};
use crate::problem;

pub(crate) use self::acknowledging::about;

/// What most messengers and mail servers let through in one file: 16 MiB.
const PART_BYTES: u64 = 16 << 20;
/// Kept free for the wishes of a device that holds little yet.
const MOST_WANTS: usize = carry::WANTS;

impl App {
    /// Makes carry files with whatever the receiving devices have not acknowledged about a pupil.
    ///
    /// # Errors
    /// No other device belongs to the pupil, or the disk cannot be read.
    pub fn make_carry(&self, input: MakeCarry) -> Result<CarryMade, Problem> {
        let pupil = input.pupil;
        let to = self.receivers(pupil, input.to)?;
        let parcel = self.parcel(pupil, &to)?;
        // A file may have to be kept until those that it rests on have come.
        let limit = input.part_bytes.map_or(PART_BYTES, u64::from);
        let limit = limit.min(store::MAX_BLOB_BYTES as u64);
        let files = carry::seal(&parcel, &self.inner.secret, &to, limit).map_err(problem::seal)?;
        let of = files.len();
        let named = |(at, bytes): (usize, Vec<u8>)| CarryFile {
            name: match of {
                1 => format!("{}.pothook-post", self.today()),
                _ => format!("{} {} of {of}.pothook-post", self.today(), at + 1),
            },
            base64: BASE64_STANDARD.encode(bytes),
        };
        Ok(CarryMade {
            files: files.into_iter().enumerate().map(named).collect(),
        })
    }

    /// Opens a carry file. It may come in any order and any number of times: one that rests on what
    /// has not come yet is kept, and taken as soon as it can be.
    ///
    /// # Errors
    /// It is damaged, not for this device, or not from one that belongs; then nothing has changed. It came
    /// too early and is too large to be kept until the others have come; or the disk is full.
    pub fn open_carry(&self, input: OpenCarry) -> Result<CarryOpened, Problem> {
        let bytes = BASE64_STANDARD
            .decode(input.base64.trim())
            .map_err(|_| problem::open_carry(carry::OpenError::NotPost))?;
        let mut opened = self.take_carry(self.unseal(&bytes)?)?;
        let kept = match opened.waits {
            true => Some(self.keep_waiting(opened.pupil, bytes)?),
            false => None,
        };
        let (later, taken) = self.take_waiting()?;
        taken?;
        opened.new_changes += later.new_changes;
        opened.new_blobs += later.new_blobs;
        self.sweep()?;
        let waiting = self.waiting_files()?;
        opened.waits = kept.is_some_and(|id| waiting.contains(&id));
        Ok(opened)
    }

    /// What is in a carry file, checked.
    fn unseal(&self, bytes: &[u8]) -> Result<(PupilId, Opened), Problem> {
        let expect = |from: DeviceId, scope: &[u8]| {
            pupil_of(scope).is_some_and(|pupil| self.may_bring(from, pupil))
        };
        let opened = carry::open(bytes, &self.inner.secret, &expect);
        let opened = opened.map_err(problem::open_carry)?;
        let pupil = pupil_of(&opened.parcel.scope)
            .ok_or_else(|| problem::open_carry(carry::OpenError::NotPost))?;
        Ok((pupil, opened))
    }

    fn take_carry(&self, (pupil, opened): (PupilId, Opened)) -> Result<CarryOpened, Problem> {
        self.acknowledge_parcel(pupil, &opened)?;
        let last = last_numbers(&opened.parcel.changes);
        let taken = self.accept_from(opened.from, opened.parcel.changes.clone())?;
        let unpacked = self.unpack_blobs(pupil, &opened)?;
        // A picture of a page that is not here yet waits, unless all that its sender has is here: then
        // it is of a page that is gone.
        let waits = self.lacks_before(&last)?
            || unpacked.early
            || unpacked.unnamed && self.lacks_before(&numbers(&opened.parcel.have))?;
        self.tell(Event::Changed { pupil: Some(pupil) });
        let count = |number: u64| u32::try_from(number).unwrap_or(u32::MAX);
        Ok(CarryOpened {
            from: opened.from,
            pupil,
            part: u32::from(opened.part.0),
            parts: u32::from(opened.part.1),
            new_changes: count(taken.new),
            refused_changes: count(taken.refused),
            new_blobs: unpacked.new,
            waits,
        })
    }

    fn receivers(&self, pupil: PupilId, to: Option<DeviceId>) -> Result<Vec<DeviceId>, Problem> {
        let log = self.standing(pupil).ok_or_else(problem::no_such_device)?;
        let mine = self.id();
        let others = log.members.keys().copied().filter(|device| *device != mine);
        let others: Vec<DeviceId> = others
            .filter(|device| to.is_none_or(|one| one == *device))
            .collect();
        match others.is_empty() {
            true => Err(problem::no_such_device()),
            false => Ok(others),
        }
    }

    fn parcel(&self, pupil: PupilId, to: &[DeviceId]) -> Result<Parcel, Problem> {
        let store = &self.inner.store;
        let mut docs = self.shown_to(to[0])?;
        docs.retain(|(doc, _)| doc.pupil == pupil);
        let acknowledged: Vec<Acknowledged> = to
            .iter()
            .map(|device| self.acknowledged(*device, pupil))
            .collect::<Result<_, _>>()?;
        let known = |doc: &DocId| {
            let counts = acknowledged.iter().map(|ack| ack.have.get(&name(doc)));
            counts.map(|count| count.copied().unwrap_or(0)).min()
        };
        let mut changes = Vec::new();
        for (doc, _) in &docs {
            let from = known(doc).unwrap_or(0) + 1;
            let new = store
                .changes(&doc.encode(), from..)
                .map_err(problem::store)?;
            changes.extend(new.into_iter().map(|(_, bytes)| bytes));
        }
        let held: Vec<BTreeSet<BlobId>> = acknowledged
            .iter()
            .map(|ack| self.held_by(pupil, &docs, ack))
            .collect::<Result<_, _>>()?;
        let mut blobs = Vec::new();
        for id in self.to_hand_on(pupil)? {
            if !held.iter().all(|held| held.contains(&id)) {
                let bytes = self.blob_of(pupil, id)?;
                blobs.extend(bytes.map(|bytes| (id, bytes)));
            }
        }
        let wants = self.lacking(&[pupil])?.into_iter();
        let mut wants: Vec<BlobId> = wants.map(|wanted| wanted.id).collect();
        let wants_more = wants.len() > MOST_WANTS;
        wants.truncate(MOST_WANTS);
        Ok(Parcel {
            scope: pupil.0.to_vec(),
            made: self.made(),
            have: docs
                .iter()
                .map(|(doc, count)| (doc.encode(), *count))
                .collect(),
            wants,
            wants_more,
            changes,
            blobs,
        })
    }

    fn unpack_blobs(&self, pupil: PupilId, opened: &Opened) -> Result<Unpacked, Problem> {
        let mut unpacked = Unpacked::default();
        let log = self.standing(pupil);
        let (books, wanted) = match log.is_some_and(|log| !log.erased) {
            true => (Some(self.books(pupil)?), self.lacking(&[pupil])?),
            false => (None, Vec::new()),
        };
        let wanted: BTreeSet<BlobId> = wanted.into_iter().map(|wanted| wanted.id).collect();
        let is_named = |id| books.as_ref().is_some_and(|books| names(books, id));
        for (id, bytes) in &opened.parcel.blobs {
            unpacked.unnamed |= !is_named(*id);
            if wanted.contains(id) {
                let kept = self.keep_whole(pupil, *id, bytes.clone())?;
                unpacked.new += u32::from(kept);
            }
        }
        for piece in &opened.pieces {
            unpacked.unnamed |= !is_named(piece.id);
            if !wanted.contains(&piece.id) || self.has_blob(pupil, piece.id)? {
                continue;
            }
            let mut done = Pieced::Added;
            self.keep_named(pupil, piece.id, || {
                done = self.add_piece(pupil, piece)?;
                Ok(())
            })?;
            unpacked.early |= done == Pieced::Early;
            unpacked.new += u32::from(done == Pieced::Whole);
        }
        Ok(unpacked)
    }

    /// Adds a piece to what is here of its blob.
    fn add_piece(&self, pupil: PupilId, piece: &Piece) -> Result<Pieced, StoreError> {
        let store = &self.inner.store;
        let mut held = store.part(piece.id)?.unwrap_or_default();
        let at = held.len() as u64;
        match piece.after(at) {
            Some(rest) => {
                store.keep_part(piece.id, at, rest)?;
                held.extend_from_slice(rest);
            }
            None if piece.from > at => return Ok(Pieced::Early),
            // All of it is here already: the disk may have been full when the whole was to be kept.
            None => {}
        }
        if (held.len() as u64) < piece.length {
            return Ok(Pieced::Added);
        }
        if *blake3::hash(&held).as_bytes() != piece.id.0 {
            // What was kept before was not as it should be: it comes again from its beginning.
            store.drop_part(piece.id)?;
            return Ok(Pieced::Early);
        }
        store.transaction(keep(pupil, held).into())?;
        Ok(Pieced::Whole)
    }

    /// Whether some of these documents have not come as far here.
    fn lacks_before(&self, last: &BTreeMap<DocId, u64>) -> Result<bool, Problem> {
        for (doc, seq) in last {
            let told = self.standing(doc.pupil);
            // Of a pupil whose log has not come nothing is gone yet.
            let gone = told.is_some_and(|log| {
                // Of a founding that was left behind nothing is waited for.
                let first = doc.founding == FoundingId::FIRST;
                let known = first || log.foundings.contains_key(&doc.founding);
                let past = known && doc.founding != log.founding_id();
                log.erased || past || log.removed.contains_key(&doc.author)
            });
            let here = self.inner.store.docs().map_err(problem::store)?;
            let here = here.iter().find(|(name, _)| *name == doc.encode());
            if !gone && here.is_none_or(|(_, count)| count < seq) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn made(&self) -> u64 {
        u64::try_from(self.now().0).unwrap_or(0)
    }
}

/// What came of a piece.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Pieced {
    /// It is here, with what is before it.
    Added,
    /// It was the last.
    Whole,
    /// It came before those that it follows.
    Early,
}

/// What came of the blobs in a file.
#[derive(Default)]
struct Unpacked {
    new: u32,
    /// Some are named by nothing that is here.
    unnamed: bool,
    /// A piece came before those that it follows.
    early: bool,
}

fn name(doc: &DocId) -> String {
    doc.encode()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

fn pupil_of(scope: &[u8]) -> Option<PupilId> {
    scope.try_into().ok().map(PupilId)
}

fn numbers(have: &[(Vec<u8>, u64)]) -> BTreeMap<DocId, u64> {
    let have = have.iter();
    have.filter_map(|(doc, count)| Some((DocId::decode(doc).ok()?, *count)))
        .collect()
}

fn last_numbers(changes: &[Vec<u8>]) -> BTreeMap<DocId, u64> {
    let mut last = BTreeMap::new();
    for change in changes
        .iter()
        .filter_map(|bytes| SignedChange::decode(bytes).ok())
    {
        let seq = last.entry(change.doc).or_insert(0);
        *seq = change.seq.max(*seq);
    }
    last
}
