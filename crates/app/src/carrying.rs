//! Carry files: what other devices have not acknowledged, for devices that do not meet.

use std::collections::{BTreeMap, BTreeSet};

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::{CaseFile, DocId, FoundingId, SignedChange};
use serde::{Deserialize, Serialize};
use store::Write;
use sync::carry::{self, Opened, Parcel};
use units::{BlobId, DeviceId, Problem, PupilId};

use crate::App;
use crate::api::{CarryFile, CarryMade, CarryOpened, Event, MakeCarry, OpenCarry};
use crate::device::read_setting;
use crate::problem;

/// What most messengers and mail servers let through in one file: 16 MiB.
const PART_BYTES: u64 = 16 << 20;
/// Kept free for the wishes of a device that holds little yet.
const MOST_WANTS: usize = carry::WANTS;
/// Files that came before what they rest on.
const WAITING: &str = "carry/waiting";
/// Most of them; the oldest go first. They can be sent again.
const MOST_WAITING: usize = 24;

/// What a device has said that it holds of a pupil.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Acknowledged {
    /// The number of the parcel, or the moment of the meeting, that said so.
    made: u64,
    /// Documents, encoded and in hexadecimal, with their number of changes.
    have: BTreeMap<String, u64>,
    /// Blobs that it still lacked.
    lacks: BTreeSet<BlobId>,
}

impl App {
    /// Makes carry files with whatever the receiving devices have not acknowledged about a pupil.
    ///
    /// # Errors
    /// No other device belongs to the pupil, or the disk cannot be read.
    pub fn make_carry(&self, input: MakeCarry) -> Result<CarryMade, Problem> {
        let pupil = input.pupil;
        let to = self.receivers(pupil, input.to)?;
        let parcel = self.parcel(pupil, &to)?;
        let limit = input.part_bytes.map_or(PART_BYTES, u64::from);
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
    /// It is damaged, not for this device, or not from one that belongs; then nothing has changed.
    pub fn open_carry(&self, input: OpenCarry) -> Result<CarryOpened, Problem> {
        let bytes = BASE64_STANDARD
            .decode(input.base64.trim())
            .map_err(|_| problem::open_carry(carry::OpenError::NotPost))?;
        let mut opened = self.take_carry(&bytes)?;
        if opened.waits {
            self.keep_waiting(&bytes)?;
        }
        let later = self.take_waiting()?;
        opened.new_changes += later.new_changes;
        opened.new_blobs += later.new_blobs;
        opened.waits &= later.waits;
        Ok(opened)
    }

    /// Keeps a file that rests on what has not come yet.
    fn keep_waiting(&self, bytes: &[u8]) -> Result<(), Problem> {
        let mut waiting = self.waiting()?;
        let id = BlobId(*blake3::hash(bytes).as_bytes());
        if waiting.contains(&id) || bytes.len() > store::MAX_BLOB_BYTES {
            return Ok(());
        }
        waiting.push(id);
        let over = waiting.len().saturating_sub(MOST_WAITING);
        let mut writes: Vec<Write> = waiting.drain(..over).map(Write::RemoveBlob).collect();
        writes.push(Write::Blob(bytes.to_vec()));
        writes.push(now_waiting(&waiting));
        self.inner.store.transaction(writes).map_err(problem::store)
    }

    /// Takes the files that waited, as far as they can be taken now.
    fn take_waiting(&self) -> Result<Later, Problem> {
        let mut later = Later::default();
        loop {
            let waiting = self.waiting()?;
            let mut still = Vec::new();
            let mut gone = Vec::new();
            for id in waiting {
                let bytes = self.inner.store.blob(id).map_err(problem::store)?;
                // One that cannot be opened any more, because its sender was removed, waits in vain.
                match bytes.map(|bytes| self.take_carry(&bytes)) {
                    Some(Ok(opened)) => {
                        later.new_changes += opened.new_changes;
                        later.new_blobs += opened.new_blobs;
                        match opened.waits {
                            true => still.push(id),
                            false => gone.push(Write::RemoveBlob(id)),
                        }
                    }
                    _ => gone.push(Write::RemoveBlob(id)),
                }
            }
            later.waits = !still.is_empty();
            if gone.is_empty() {
                return Ok(later);
            }
            gone.push(now_waiting(&still));
            self.inner.store.transaction(gone).map_err(problem::store)?;
        }
    }

    /// Lets go of the files that wait, for they may hold what was forgotten; they can be sent again.
    pub(crate) fn let_waiting_go(&self) -> Result<(), Problem> {
        let waiting = self.waiting()?;
        if waiting.is_empty() {
            return Ok(());
        }
        let mut writes: Vec<Write> = waiting.into_iter().map(Write::RemoveBlob).collect();
        writes.push(now_waiting(&[]));
        self.inner.store.transaction(writes).map_err(problem::store)
    }

    /// Files that wait for what they rest on.
    fn waiting(&self) -> Result<Vec<BlobId>, Problem> {
        Ok(read_setting(&self.inner.store, WAITING)?.unwrap_or_default())
    }

    fn take_carry(&self, bytes: &[u8]) -> Result<CarryOpened, Problem> {
        let expect = |from: DeviceId, scope: &[u8]| {
            pupil_of(scope).is_some_and(|pupil| self.may_bring(from, pupil))
        };
        let opened = carry::open(bytes, &self.inner.secret, &expect);
        let opened = opened.map_err(problem::open_carry)?;
        let pupil = pupil_of(&opened.parcel.scope)
            .ok_or_else(|| problem::open_carry(carry::OpenError::NotPost))?;
        self.acknowledge_parcel(pupil, &opened)?;
        let last = last_numbers(&opened.parcel.changes);
        let taken = self.accept_from(opened.from, opened.parcel.changes.clone())?;
        let unpacked = self.unpack_blobs(pupil, opened.from, &opened)?;
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

    /// Notes what a device holds after a meeting that brought both level.
    pub(crate) fn acknowledge_meeting(&self, peer: DeviceId, shown: &[(DocId, u64)]) {
        for pupil in self.shared_with(peer) {
            let have = shown.iter().filter(|(doc, _)| doc.pupil == pupil);
            // Only a later parcel of that device says more than this meeting.
            let made = self
                .acknowledged(peer, pupil)
                .map_or(0, |before| before.made);
            let acknowledged = Acknowledged {
                made,
                have: have.map(|(doc, count)| (name(doc), *count)).collect(),
                lacks: BTreeSet::new(),
            };
            // Not worth failing a meeting for: the next carry file is larger, and that is all.
            let _ = self.write_setting(&setting(peer, pupil), &acknowledged);
        }
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
        let named = self.named_blobs(&[pupil])?;
        let held: Vec<BTreeSet<BlobId>> = acknowledged
            .iter()
            .map(|ack| self.held_by(pupil, &docs, ack))
            .collect::<Result<_, _>>()?;
        let (mut blobs, mut wants) = (Vec::new(), Vec::new());
        for id in named {
            match store.has_blob(id).map_err(problem::store)? {
                false => wants.push(id),
                true if held.iter().all(|held| held.contains(&id)) => {}
                true => {
                    let bytes = store.blob(id).map_err(problem::store)?;
                    blobs.extend(bytes.map(|bytes| (id, bytes)));
                }
            }
        }
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

    /// The blobs that a device holds by what it acknowledged: those that its changes name, but for
    /// those that it lacked.
    pub(crate) fn held_by(
        &self,
        pupil: PupilId,
        docs: &[(DocId, u64)],
        acknowledged: &Acknowledged,
    ) -> Result<BTreeSet<BlobId>, Problem> {
        let mut kept = Vec::new();
        for (doc, _) in docs {
            let upto = acknowledged.have.get(&name(doc)).copied().unwrap_or(0);
            let store = &self.inner.store;
            let changes = store
                .changes(&doc.encode(), 1..=upto)
                .map_err(problem::store)?;
            kept.extend(
                changes
                    .iter()
                    .filter_map(|(_, bytes)| SignedChange::decode(bytes).ok()),
            );
        }
        let view = CaseFile::of_kept(pupil, kept).view();
        let mut held = BTreeSet::new();
        for page in &view.pages {
            held.insert(page.picture);
            held.extend(page.readings.last().map(|reading| reading.detail));
        }
        Ok(held.difference(&acknowledged.lacks).copied().collect())
    }

    fn acknowledge_parcel(&self, pupil: PupilId, opened: &Opened) -> Result<(), Problem> {
        let before = self.acknowledged(opened.from, pupil)?;
        if opened.parcel.made <= before.made {
            return Ok(());
        }
        let have = numbers(&opened.parcel.have);
        let have = have.iter().map(|(doc, count)| (name(doc), *count));
        let mut acknowledged = Acknowledged {
            made: opened.parcel.made,
            have: have.collect(),
            lacks: opened.parcel.wants.iter().copied().collect(),
        };
        if opened.parcel.wants_more {
            // What it holds is not known beyond the changes.
            acknowledged.lacks.extend(self.named_blobs(&[pupil])?);
        }
        self.write_setting(&setting(opened.from, pupil), &acknowledged)
    }

    fn unpack_blobs(
        &self,
        pupil: PupilId,
        from: DeviceId,
        opened: &Opened,
    ) -> Result<Unpacked, Problem> {
        let store = &self.inner.store;
        let mut unpacked = Unpacked::default();
        let named: BTreeSet<BlobId> = match self.shared_with(from).contains(&pupil) {
            true => self.named_blobs(&[pupil])?.into_iter().collect(),
            false => BTreeSet::new(),
        };
        let wanted = |id: &BlobId| -> Result<bool, Problem> {
            Ok(named.contains(id) && !store.has_blob(*id).map_err(problem::store)?)
        };
        for (id, bytes) in &opened.parcel.blobs {
            unpacked.unnamed |= !named.contains(id);
            if wanted(id)? {
                store.put_blob_as(*id, bytes).map_err(problem::store)?;
                unpacked.new += 1;
            }
        }
        for piece in &opened.pieces {
            unpacked.unnamed |= !named.contains(&piece.id);
            if !wanted(&piece.id)? {
                continue;
            }
            let mut held = store
                .part(piece.id)
                .map_err(problem::store)?
                .unwrap_or_default();
            let Some(rest) = piece.after(held.len() as u64) else {
                unpacked.early |= piece.from > held.len() as u64;
                continue;
            };
            let at = held.len() as u64;
            store
                .keep_part(piece.id, at, rest)
                .map_err(problem::store)?;
            held.extend_from_slice(rest);
            if held.len() as u64 == piece.length {
                store.put_blob_as(piece.id, &held).map_err(problem::store)?;
                unpacked.new += 1;
            }
        }
        Ok(unpacked)
    }

    /// Whether some of these documents have not come as far here.
    fn lacks_before(&self, last: &BTreeMap<DocId, u64>) -> Result<bool, Problem> {
        for (doc, seq) in last {
            let told = self.standing(doc.pupil);
            let gone = told.is_none_or(|log| {
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

    pub(crate) fn acknowledged(
        &self,
        device: DeviceId,
        pupil: PupilId,
    ) -> Result<Acknowledged, Problem> {
        let kept = read_setting(&self.inner.store, &setting(device, pupil))?;
        Ok(kept.unwrap_or_default())
    }

    fn made(&self) -> u64 {
        u64::try_from(self.now().0).unwrap_or(0)
    }
}

/// What came of the files that waited.
#[derive(Default)]
struct Later {
    new_changes: u32,
    new_blobs: u32,
    waits: bool,
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

fn now_waiting(ids: &[BlobId]) -> Write {
    Write::Setting {
        name: WAITING.to_owned(),
        bytes: serde_json::to_vec(ids).expect("ids are plain data"),
    }
}

fn setting(device: DeviceId, pupil: PupilId) -> String {
    format!("acknowledged/{pupil}/{device}")
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
