//! This device's side of a meeting: what a peer may see and what is taken from it.

use std::net::SocketAddr;

use casefile::{DocId, SignedChange};
use sync::{ExchangeError, Host, HostError, Report, Taken};
use units::{BlobId, DeviceId, Problem, PupilId};

use crate::App;
use crate::api::Event;

/// Changes handed over at once; the meeting asks again for the rest.
const AT_ONCE: u64 = 512;

pub(crate) struct Door(pub App);

impl Door {
    fn pupils(&self, peer: DeviceId) -> Vec<PupilId> {
        self.0
            .peer(peer)
            .map(|peer| peer.pupils)
            .unwrap_or_default()
    }

    fn visible(&self, peer: DeviceId, doc: &[u8]) -> bool {
        DocId::decode(doc).is_ok_and(|doc| !doc.is_private() && self.0.shared_with(peer, doc.pupil))
    }

    fn named_blobs(&self, peer: DeviceId) -> Result<Vec<BlobId>, HostError> {
        let mut named = Vec::new();
        for pupil in self.pupils(peer) {
            for page in self.0.books(pupil).map_err(failed)?.pages.iter().rev() {
                named.extend(page.readings.last().map(|reading| reading.detail));
                named.push(page.picture);
            }
        }
        Ok(named)
    }
}

impl Host for Door {
    fn knows(&self, peer: DeviceId) -> bool {
        self.0.peer(peer).is_some()
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let docs = self.0.inner.store.docs().map_err(HostError::new)?;
        Ok(docs
            .into_iter()
            .filter(|(doc, _)| self.visible(peer, doc))
            .collect())
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        if !self.visible(peer, doc) {
            return Ok(Vec::new());
        }
        let changes = self
            .0
            .inner
            .store
            .changes(doc, from + 1..=from + AT_ONCE)
            .map_err(HostError::new)?;
        Ok(changes.into_iter().map(|(_, bytes)| bytes).collect())
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        let mut taken = Taken::default();
        let mut by_pupil: Vec<(PupilId, Vec<SignedChange>)> = Vec::new();
        for bytes in changes {
            match SignedChange::decode(&bytes) {
                Ok(change) if self.0.shared_with(peer, change.doc.pupil) => {
                    let pupil = change.doc.pupil;
                    match by_pupil.iter_mut().find(|(known, _)| *known == pupil) {
                        Some((_, changes)) => changes.push(change),
                        None => by_pupil.push((pupil, vec![change])),
                    }
                }
                _ => taken.refused += 1,
            }
        }
        for (pupil, changes) in by_pupil {
            let part = self.0.receive(pupil, changes).map_err(failed)?;
            taken.new += part.new;
            taken.known += part.known;
            taken.refused += part.refused;
        }
        Ok(taken)
    }

    fn wants(&self, peer: DeviceId) -> Result<Vec<BlobId>, HostError> {
        let mut wanted = Vec::new();
        for id in self.named_blobs(peer)? {
            if !self.0.inner.store.has_blob(id).map_err(HostError::new)? {
                wanted.push(id);
            }
        }
        Ok(wanted)
    }

    fn blob(&self, peer: DeviceId, id: BlobId) -> Result<Option<Vec<u8>>, HostError> {
        if !self.named_blobs(peer)?.contains(&id) {
            return Ok(None);
        }
        self.0.inner.store.blob(id).map_err(HostError::new)
    }

    fn keep_blob(&self, peer: DeviceId, id: BlobId, bytes: Vec<u8>) -> Result<(), HostError> {
        // A peer can only fill the disk with what a signed change names.
        if !self.named_blobs(peer)?.contains(&id) {
            return Ok(());
        }
        self.0
            .inner
            .store
            .put_blob(&bytes)
            .map_err(HostError::new)?;
        self.0.tell(Event::Changed { pupil: None });
        Ok(())
    }

    fn met(&self, peer: DeviceId, addrs: Vec<SocketAddr>) {
        let now = self.0.now();
        // Not worth failing a meeting for: the address is learnt again next time.
        let _ = self.0.change_peers(|peers| {
            if let Some(peer) = peers.iter_mut().find(|known| known.device == peer) {
                peer.last_met = Some(now);
                if !addrs.is_empty() {
                    peer.addresses = addrs;
                }
            }
        });
    }

    fn ended(&self, peer: DeviceId, outcome: Result<&Report, &ExchangeError>) {
        self.0.tell(Event::Met {
            device: peer,
            ok: outcome.is_ok(),
        });
    }
}

fn failed(problem: Problem) -> HostError {
    HostError::new(problem)
}
