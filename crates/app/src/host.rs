//! This device's side of a meeting: what a peer may see and what is taken from it.
//!
//! What a peer may see follows from the logs alone, and is asked again at every step: a device sees the
//! log and the books of the pupils to which it belongs, one of the tutor's also the practice, and a
//! device that was only paired sees no more than the logs that it was paired for.

use std::collections::BTreeSet;
use std::net::SocketAddr;

use casefile::{BookKind, DocId, SignedChange};
use store::StoreError;
use sync::{ExchangeError, Host, HostError, Progress, Report, Taken};
use units::{BlobId, DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::Event;
use crate::cases::is_practices;
use crate::device::locked;

/// Changes handed over at once; the meeting asks again for the rest.
const AT_ONCE: u64 = 512;

pub(crate) struct Door(pub App);

/// How much of a pupil, or of the practice, a peer may see.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sight {
    Nothing,
    Log,
    All,
}

impl App {
    fn sight(&self, peer: DeviceId, id: PupilId, practice: Option<PupilId>) -> Sight {
        let log = self.standing(id);
        let role = log.as_ref().and_then(|log| log.role(peer));
        let removed = log.is_some_and(|log| log.removed.contains_key(&peer));
        let paired = || {
            self.peer(peer)
                .is_some_and(|peer| peer.pupils.contains(&id))
        };
        match role {
            Some(Role::Parent) if practice == Some(id) => Sight::Nothing,
            Some(_) => Sight::All,
            None if !removed && practice != Some(id) && paired() => Sight::Log,
            None => Sight::Nothing,
        }
    }

    /// Whether a peer may see a document.
    pub(crate) fn shows(&self, peer: DeviceId, doc: &DocId) -> bool {
        let practice = self.practice_circle().map(|(id, _)| id);
        match self.sight(peer, doc.pupil, practice) {
            Sight::Nothing => false,
            Sight::Log => doc.is_log(),
            Sight::All => true,
        }
    }

    /// Whether a peer may bring something of this pupil, or of the practice: one that belongs, one
    /// that was paired for it, and one of the tutor's own devices a pupil that is new here.
    pub(crate) fn may_bring(&self, peer: DeviceId, id: PupilId) -> bool {
        if let Some(log) = self.standing(id) {
            if log.role(peer).is_some() {
                return true;
            }
            if log.removed.contains_key(&peer) {
                return false;
            }
        }
        let paired = self
            .peer(peer)
            .is_some_and(|peer| peer.pupils.contains(&id));
        let here = self.standing(id).is_some();
        paired && (here || self.is_expected(id)) || !here && self.is_own_device(peer)
    }

    fn is_own_device(&self, peer: DeviceId) -> bool {
        let tutors = self.practice_circle().and_then(|(_, log)| log);
        tutors.is_some_and(|log| log.role(peer).is_some())
    }

    /// The documents that a peer may see, those that decide over the others first, each with the number
    /// of its changes.
    pub(crate) fn shown_to(&self, peer: DeviceId) -> Result<Vec<(DocId, u64)>, Problem> {
        let practice = self.practice_circle().map(|(id, _)| id);
        let docs = self.inner.store.docs().map_err(crate::problem::store)?;
        let mut shown: Vec<(DocId, u64)> = docs
            .into_iter()
            .filter_map(|(doc, count)| Some((DocId::decode(&doc).ok()?, count)))
            .filter(|(doc, _)| self.shows(peer, doc))
            .collect();
        let first = |doc: &DocId| (!is_practices(doc, practice), !doc.is_log());
        shown.sort_by_key(|(doc, _)| (first(doc), *doc));
        Ok(shown)
    }

    /// The pupils whose books a peer shares with this device.
    pub(crate) fn shared_with(&self, peer: DeviceId) -> Vec<PupilId> {
        let circles = self.circles().into_iter();
        let shared = circles.filter(|(_, log)| log.role(peer).is_some() && !log.erased);
        shared.map(|(pupil, _)| pupil).collect()
    }

    /// Blobs that the books shared with a peer name, the most wanted first: whole readings, which are
    /// small, then pictures, those of the newest pages first.
    pub(crate) fn named_blobs(&self, pupils: &[PupilId]) -> Result<Vec<BlobId>, Problem> {
        let (mut readings, mut pictures) = (Vec::new(), Vec::new());
        for pupil in pupils {
            for page in self.books(*pupil)?.pages.iter().rev() {
                let newest = page.readings.last();
                readings.extend(newest.map(|reading| (page.written_on, reading.detail)));
                pictures.push((page.written_on, page.picture));
            }
        }
        for blobs in [&mut readings, &mut pictures] {
            blobs.sort_by_key(|(day, _)| core::cmp::Reverse(*day));
        }
        readings.append(&mut pictures);
        Ok(readings.into_iter().map(|(_, id)| id).collect())
    }

    /// Whether the books shared with a peer name a blob.
    fn names_blob_to(&self, peer: DeviceId, id: BlobId) -> Result<bool, Problem> {
        for pupil in self.shared_with(peer) {
            let books = self.books(pupil)?;
            let named = books.pages.iter().any(|page| {
                let mut readings = page.readings.iter();
                page.picture == id || readings.any(|reading| reading.detail == id)
            });
            if named {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Takes changes that a peer brought, whichever way.
    pub(crate) fn accept_from(
        &self,
        peer: DeviceId,
        changes: Vec<Vec<u8>>,
    ) -> Result<Taken, Problem> {
        let mut taken = Taken::default();
        let mut by_pupil: Vec<(PupilId, Vec<SignedChange>)> = Vec::new();
        for bytes in changes {
            let Ok(change) = SignedChange::decode(&bytes) else {
                taken.refused += 1;
                continue;
            };
            let pupil = change.doc.pupil;
            match by_pupil.iter_mut().find(|(known, _)| *known == pupil) {
                Some((_, changes)) => changes.push(change),
                None => by_pupil.push((pupil, vec![change])),
            }
        }
        for (pupil, changes) in by_pupil {
            if !self.may_bring(peer, pupil) {
                taken.refused += changes.len() as u64;
                continue;
            }
            if self.standing(pupil).is_none() {
                // Only a pupil whose log begins is taken in; nothing is kept of others.
                if changes[0].doc.book != BookKind::Log {
                    continue;
                }
                self.expect_from(peer, pupil)?;
            }
            let part = self.receive(peer, pupil, changes)?;
            taken.new += part.new;
            taken.known += part.known;
            taken.refused += part.refused;
            taken.again |= part.again;
        }
        Ok(taken)
    }

    fn expect_from(&self, peer: DeviceId, pupil: PupilId) -> Result<(), Problem> {
        let practice = self.practice_circle().map(|(id, _)| id);
        match practice == Some(pupil) || !self.is_own_device(peer) {
            true => Ok(()),
            false => self.expect(pupil),
        }
    }
}

impl App {
    /// This device's side of a meeting, for checks that let devices meet without a network.
    pub fn host(&self) -> std::sync::Arc<dyn Host> {
        std::sync::Arc::new(Door(self.clone()))
    }
}

impl Host for Door {
    fn knows(&self, peer: DeviceId) -> bool {
        self.0.knows(peer)
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let shown = self.0.shown_to(peer).map_err(failed)?;
        locked(&self.0.inner.showing).insert(peer, shown.clone());
        let shown = shown.into_iter();
        Ok(shown.map(|(doc, count)| (doc.encode(), count)).collect())
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        if !DocId::decode(doc).is_ok_and(|doc| self.0.shows(peer, &doc)) {
            return Ok(Vec::new());
        }
        let store = &self.0.inner.store;
        let changes = store.changes(doc, from + 1..=from + AT_ONCE);
        let changes = changes.map_err(HostError::new)?.into_iter();
        Ok(changes.map(|(_, bytes)| bytes).collect())
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        self.0.accept_from(peer, changes).map_err(failed)
    }

    fn wants(&self, peer: DeviceId) -> Result<Vec<BlobId>, HostError> {
        let pupils = self.0.shared_with(peer);
        let named = self.0.named_blobs(&pupils).map_err(failed)?;
        let here = self.0.inner.store.blobs().map_err(HostError::new)?;
        let here: BTreeSet<BlobId> = here.into_iter().collect();
        let mut wanted = named;
        wanted.retain(|id| !here.contains(id));
        Ok(wanted)
    }

    fn blob(&self, peer: DeviceId, id: BlobId) -> Result<Option<Vec<u8>>, HostError> {
        if !self.0.names_blob_to(peer, id).map_err(failed)? {
            return Ok(None);
        }
        self.0.inner.store.blob(id).map_err(HostError::new)
    }

    fn keep_blob(&self, peer: DeviceId, id: BlobId, bytes: Vec<u8>) -> Result<(), HostError> {
        // A peer can only fill the disk with what a signed change names.
        if !self.0.names_blob_to(peer, id).map_err(failed)? {
            return Ok(());
        }
        self.0
            .inner
            .store
            .put_blob_as(id, &bytes)
            .map_err(HostError::new)?;
        // Its page may have been forgotten while it was written.
        if !self.0.names_blob_to(peer, id).map_err(failed)? {
            self.0.inner.store.remove_blob(id).map_err(HostError::new)?;
        }
        self.0.tell(Event::Arrived {});
        Ok(())
    }

    fn part(&self, _: DeviceId, id: BlobId) -> Result<Option<Vec<u8>>, HostError> {
        self.0.inner.store.part(id).map_err(HostError::new)
    }

    fn keep_part(
        &self,
        peer: DeviceId,
        id: BlobId,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        if !self.0.names_blob_to(peer, id).map_err(failed)? {
            return Ok(());
        }
        let store = &self.0.inner.store;
        match store.keep_part(id, from, &bytes) {
            // What was kept from there on was not as it should be.
            Err(StoreError::OutOfPlace { length }) if from < length => {
                let mut part = store.part(id).map_err(HostError::new)?.unwrap_or_default();
                part.truncate(usize::try_from(from).unwrap_or(usize::MAX));
                part.extend(bytes);
                store.drop_part(id).map_err(HostError::new)?;
                store.keep_part(id, 0, &part).map_err(HostError::new)
            }
            other => other.map_err(HostError::new),
        }
    }

    fn progress(&self, peer: DeviceId, progress: Progress) {
        self.0.tell(Event::Moving {
            device: peer,
            received: progress.received as f64,
            to_receive: progress.to_receive.map(|bytes| bytes as f64),
            sent: progress.sent as f64,
        });
    }

    fn met(&self, peer: DeviceId, addrs: Vec<SocketAddr>) {
        let now = self.0.now();
        // Not worth failing a meeting for: the address is learnt again next time.
        let _ = self.0.note_peer(peer, |peer| {
            peer.last_met = Some(now);
            peer.reached_at(addrs);
        });
    }

    fn ended(&self, peer: DeviceId, outcome: Result<&Report, &ExchangeError>) {
        let shown = locked(&self.0.inner.showing).remove(&peer);
        if let (Ok(Report { more: false, .. }), Some(shown)) = (outcome, shown) {
            self.0.acknowledge_meeting(peer, &shown);
        }
        self.0.tell(Event::Met {
            device: peer,
            ok: outcome.is_ok(),
        });
    }
}

/// The side of the device that a backup was made on: it shows the logs, and takes nothing.
pub(crate) struct Introduction(pub App);

impl Host for Introduction {
    fn knows(&self, peer: DeviceId) -> bool {
        self.0.knows(peer)
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let mut shown = self.0.shown_to(peer).map_err(failed)?;
        shown.retain(|(doc, _)| doc.is_log());
        let shown = shown.into_iter();
        Ok(shown.map(|(doc, count)| (doc.encode(), count)).collect())
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        match DocId::decode(doc).is_ok_and(|doc| doc.is_log()) {
            true => Door(self.0.clone()).changes(peer, doc, from),
            false => Ok(Vec::new()),
        }
    }

    fn accept(&self, _: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        // They come again to the device itself.
        let known = changes.len() as u64;
        Ok(Taken {
            known,
            ..Taken::default()
        })
    }

    fn wants(&self, _: DeviceId) -> Result<Vec<BlobId>, HostError> {
        Ok(Vec::new())
    }

    fn blob(&self, _: DeviceId, _: BlobId) -> Result<Option<Vec<u8>>, HostError> {
        Ok(None)
    }

    fn keep_blob(&self, _: DeviceId, _: BlobId, _: Vec<u8>) -> Result<(), HostError> {
        Ok(())
    }

    fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
}

fn failed(problem: Problem) -> HostError {
    HostError::new(problem)
}
