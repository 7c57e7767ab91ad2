//! This device's side of a meeting: what a peer may see and what is taken from it.
//!
//! What a peer may see follows from the logs alone, and is asked again at every step: a device sees the
//! log and the books of the pupils to which it belongs, one of the tutor's also the practice, and a
//! device that was only paired sees no more than the logs that it was paired for.

use std::net::SocketAddr;

use casefile::{BookKind, DocId, Refused, SignedChange};
use store::StoreError;
use sync::{ExchangeError, Host, HostError, Progress, Report, Taken, Wanted};
use units::{DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::{Event, Notice};
use crate::cases::is_practices;

/// Most bytes of changes handed over at once, unless a single one is larger; the meeting asks again for the
/// rest.
const AT_ONCE: usize = 4 << 20;

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
        let paper = log.as_ref().is_some_and(|log| log.paper.contains(&peer));
        let removed = log.is_some_and(|log| log.removed.contains_key(&peer));
        let paired = || {
            self.peer(peer)
                .is_some_and(|peer| peer.pupils.contains(&id))
        };
        match role {
            Some(Role::Parent) if practice == Some(id) => Sight::Nothing,
            Some(_) => Sight::All,
            // By the key on paper the tutor comes back, who must have the log for that.
            None if paper => Sight::Log,
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
            if log.role(peer).is_some() || log.paper.contains(&peer) {
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

    /// Takes changes that a peer brought, whichever way. The outermost caller sweeps after it.
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
                let apart = changes.iter().map(|change| (change, Refused::WrongPupil));
                self.set_apart(peer, &apart.collect::<Vec<_>>())?;
                continue;
            }
            if self.standing(pupil).is_none() {
                // Only a pupil whose log begins is taken in; nothing is kept of others.
                if changes[0].doc.book != BookKind::Log {
                    continue;
                }
                self.expect_from(peer, pupil)?;
            }
            let practice = self.practice_circle().map(|(id, _)| id);
            let before = self.sight(peer, pupil, practice);
            let part = self.receive(peer, pupil, changes)?;
            // What it may see from now on is in another meeting's list.
            taken.again |= self.sight(peer, pupil, practice) != before;
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
        let shown = self.0.shown_to(peer).map_err(failed)?.into_iter();
        Ok(shown.map(|(doc, count)| (doc.encode(), count)).collect())
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        if !DocId::decode(doc).is_ok_and(|doc| self.0.shows(peer, &doc)) {
            return Ok(Vec::new());
        }
        let store = &self.0.inner.store;
        let changes = store.changes_within(doc, from.saturating_add(1), AT_ONCE);
        let changes = changes.map_err(HostError::new)?.into_iter();
        Ok(changes.map(|(_, bytes)| bytes).collect())
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        let taken = self.0.accept_from(peer, changes).map_err(failed)?;
        if let Err(problem) = self.0.sweep() {
            // It stays owed, and what came is kept: no reason to end a meeting, which would end here again.
            let _ = self.0.notice_once(Notice::Unfinished { problem });
        }
        Ok(taken)
    }

    fn wants(&self, peer: DeviceId) -> Result<Vec<Wanted>, HostError> {
        self.0.lacking(&self.0.shared_with(peer)).map_err(failed)
    }

    fn blob(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        let (pupil, id) = (PupilId(blob.scope), blob.id);
        match self.0.shows_blob(peer, pupil, id).map_err(failed)? {
            true => self.0.bytes_of(id).map_err(failed),
            false => Ok(None),
        }
    }

    fn keep_blob(&self, _: DeviceId, blob: Wanted, bytes: Vec<u8>) -> Result<(), HostError> {
        // A peer can only fill the disk with what a signed change names.
        let pupil = PupilId(blob.scope);
        let kept = self.0.keep_whole(pupil, blob.id, bytes);
        if kept.map_err(failed)? {
            self.0.tell(Event::Arrived {});
        }
        Ok(())
    }

    fn part(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        let part = self.0.inner.store.part(blob.id).map_err(HostError::new)?;
        // From where it is asked for tells that a part is here: of another's picture that is nobody's business.
        Ok(part.filter(|_| !self.0.is_anothers(peer, blob.id)))
    }

    fn keep_part(
        &self,
        _: DeviceId,
        blob: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        let (pupil, id) = (PupilId(blob.scope), blob.id);
        let store = &self.0.inner.store;
        let keep = || match store.keep_part(id, from, &bytes) {
            // What was kept from there on was not as it should be.
            Err(StoreError::OutOfPlace { length }) if from < length => {
                let mut part = store.part(id)?.unwrap_or_default();
                part.truncate(usize::try_from(from).unwrap_or(usize::MAX));
                part.extend(&bytes);
                store.drop_part(id)?;
                store.keep_part(id, 0, &part)
            }
            other => other,
        };
        self.0.keep_named(pupil, id, keep).map(drop).map_err(failed)
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
        if self.0.holds_paper(peer) {
            // No device, but the key on paper.
            return;
        }
        let now = self.0.now();
        // Not worth failing a meeting for: the address is learnt again next time.
        let _ = self.0.note_peer(peer, |peer| {
            peer.last_met = Some(now);
            peer.reached_at(addrs);
        });
    }

    fn ended(
        &self,
        peer: DeviceId,
        had: &[(Vec<u8>, u64)],
        outcome: Result<&Report, &ExchangeError>,
    ) {
        if let Ok(Report { more: false, .. }) = outcome {
            let had = had.iter();
            let had = had.filter_map(|(doc, count)| Some((DocId::decode(doc).ok()?, *count)));
            self.0.acknowledge_meeting(peer, &had.collect::<Vec<_>>());
        }
        self.0.tell(Event::Met {
            device: peer,
            ok: outcome.is_ok(),
        });
    }
}

/// The side of a key that is not this device's own, of the device that a backup was made on or on paper: it
/// shows the logs, and takes at most those.
pub(crate) struct Introduction {
    pub app: App,
    pub takes: bool,
}

impl Host for Introduction {
    fn knows(&self, peer: DeviceId) -> bool {
        self.app.knows(peer)
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let mut shown = self.app.shown_to(peer).map_err(failed)?;
        shown.retain(|(doc, _)| doc.is_log());
        let shown = shown.into_iter();
        Ok(shown.map(|(doc, count)| (doc.encode(), count)).collect())
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        match DocId::decode(doc).is_ok_and(|doc| doc.is_log()) {
            true => Door(self.app.clone()).changes(peer, doc, from),
            false => Ok(Vec::new()),
        }
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        if self.takes {
            return Door(self.app.clone()).accept(peer, changes);
        }
        // They come again to the device itself.
        let known = changes.len() as u64;
        Ok(Taken {
            known,
            ..Taken::default()
        })
    }

    fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> {
        Ok(Vec::new())
    }

    fn blob(&self, _: DeviceId, _: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        Ok(None)
    }

    fn keep_blob(&self, _: DeviceId, _: Wanted, _: Vec<u8>) -> Result<(), HostError> {
        Ok(())
    }

    fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
}

fn failed(problem: Problem) -> HostError {
    HostError::new(problem)
}
