//! Faults planted on purpose, to see that the checks see them. They stand around the program, not in it.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use app::units::{BlobId, DeviceId};
use casefile::{BookKind, DocId, FoundingId, SignedChange};
use sync::{ExchangeError, Host, HostError, Progress, Report, Taken, Wanted};

use crate::plug::Lie;
use crate::scene::{BAG, KITCHEN, STUDY};

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plant {
    Nothing,
    /// A disk that lies to everybody.
    Disk(Lie),
    /// A laptop says of some changes that it took them, and did not.
    DropsChanges,
    /// A laptop says of some pictures that it kept them, and did not.
    DropsBlobs,
    /// A phone hands nobody what it wrote, or carried over, since the books were founded anew.
    KeepsToItself,
    /// A laptop shows a family's device what it shows the other laptop.
    ShowsTooMuch,
}

impl Plant {
    pub fn lie(self) -> Lie {
        match self {
            Self::Disk(lie) => lie,
            _ => Lie::None,
        }
    }

    /// Whose device it is in.
    fn is_in(self, device: usize) -> bool {
        match self {
            Self::Nothing | Self::Disk(_) => false,
            Self::DropsChanges | Self::DropsBlobs => device == BAG,
            Self::KeepsToItself => device == KITCHEN,
            Self::ShowsTooMuch => device == STUDY,
        }
    }
}

/// A device's side of a meeting with something wrong in it, for the whole of a schedule.
pub struct Wrong {
    plant: Plant,
    mine: DeviceId,
    laptop: DeviceId,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    batches: u64,
    said: BTreeMap<Vec<u8>, u64>,
}

impl Wrong {
    /// `None` where nothing is wrong with this device.
    pub fn of(plant: Plant, device: usize, mine: DeviceId, laptop: DeviceId) -> Option<Arc<Self>> {
        let wrong = Self {
            plant,
            mine,
            laptop,
            state: Mutex::default(),
        };
        plant.is_in(device).then(|| Arc::new(wrong))
    }

    pub fn around(self: &Arc<Self>, inner: Arc<dyn Host>) -> Arc<dyn Host> {
        Arc::new(Around {
            wrong: Arc::clone(self),
            inner,
        })
    }

    /// Every fifth batch.
    fn drops(&self, changes: &[Vec<u8>]) -> bool {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.batches += 1;
        let drops = self.plant == Plant::DropsChanges && state.batches.is_multiple_of(5);
        if drops {
            for change in changes
                .iter()
                .filter_map(|it| SignedChange::decode(it).ok())
            {
                let said = state.said.entry(change.doc.encode()).or_insert(0);
                *said = change.seq.max(*said);
            }
        }
        drops
    }

    fn is_lost(&self, id: BlobId) -> bool {
        self.plant == Plant::DropsBlobs && id.0[0] < 64
    }
}

struct Around {
    wrong: Arc<Wrong>,
    inner: Arc<dyn Host>,
}

impl Around {
    /// Whom the peer is taken for.
    fn taken_for(&self, peer: DeviceId) -> DeviceId {
        match self.wrong.plant {
            Plant::ShowsTooMuch => self.wrong.laptop,
            _ => peer,
        }
    }
}

impl Host for Around {
    fn knows(&self, peer: DeviceId) -> bool {
        self.inner.knows(peer)
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let mut have = self.inner.have(self.taken_for(peer))?;
        if self.wrong.plant == Plant::KeepsToItself {
            let kept = |doc: &DocId| {
                doc.author == self.wrong.mine
                    && doc.book == BookKind::Home
                    && doc.founding != FoundingId::FIRST
            };
            have.retain(|(doc, _)| !DocId::decode(doc).is_ok_and(|doc| kept(&doc)));
        }
        let state = self.wrong.state.lock();
        let state = state.unwrap_or_else(PoisonError::into_inner);
        for (doc, said) in &state.said {
            match have.iter_mut().find(|(here, _)| here == doc) {
                Some((_, count)) => *count = (*count).max(*said),
                None => have.push((doc.clone(), *said)),
            }
        }
        Ok(have)
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        self.inner.changes(self.taken_for(peer), doc, from)
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        match self.wrong.drops(&changes) {
            true => Ok(Taken {
                new: changes.len() as u64,
                ..Taken::default()
            }),
            false => self.inner.accept(peer, changes),
        }
    }

    fn wants(&self, peer: DeviceId) -> Result<Vec<Wanted>, HostError> {
        let mut wants = self.inner.wants(peer)?;
        wants.retain(|wanted| !self.wrong.is_lost(wanted.id));
        Ok(wants)
    }

    fn blob(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        self.inner.blob(peer, blob)
    }

    fn keep_blob(&self, peer: DeviceId, blob: Wanted, bytes: Vec<u8>) -> Result<(), HostError> {
        self.inner.keep_blob(peer, blob, bytes)
    }

    fn part(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        self.inner.part(peer, blob)
    }

    fn keep_part(
        &self,
        peer: DeviceId,
        blob: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        self.inner.keep_part(peer, blob, from, bytes)
    }

    fn progress(&self, peer: DeviceId, progress: Progress) {
        self.inner.progress(peer, progress);
    }

    fn met(&self, peer: DeviceId, addrs: Vec<SocketAddr>) {
        self.inner.met(peer, addrs);
    }

    fn ended(
        &self,
        peer: DeviceId,
        had: &[(Vec<u8>, u64)],
        outcome: Result<&Report, &ExchangeError>,
    ) {
        self.inner.ended(peer, had, outcome);
    }
}
