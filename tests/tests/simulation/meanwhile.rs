//! A person who goes on working while the device meets another.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use app::units::DeviceId;
use sync::{ExchangeError, Host, HostError, Progress, Report, Taken, Wanted};

type Work = Box<dyn FnOnce() + Send>;

/// Does some work right before one of the questions that the meeting asks.
pub struct Meanwhile {
    inner: Arc<dyn Host>,
    waiting: Mutex<Option<(u64, Work)>>,
}

impl Meanwhile {
    pub fn before(inner: Arc<dyn Host>, at: u64, work: Work) -> Arc<dyn Host> {
        let waiting = Mutex::new(Some((at, work)));
        Arc::new(Self { inner, waiting })
    }

    fn asked(&self) -> &dyn Host {
        let work = {
            let waiting = self.waiting.lock();
            let mut waiting = waiting.unwrap_or_else(PoisonError::into_inner);
            match waiting.take() {
                Some((0, work)) => Some(work),
                Some((at, work)) => {
                    *waiting = Some((at - 1, work));
                    None
                }
                None => None,
            }
        };
        if let Some(work) = work {
            work();
        }
        &*self.inner
    }
}

impl Host for Meanwhile {
    fn knows(&self, peer: DeviceId) -> bool {
        self.inner.knows(peer)
    }

    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        self.asked().have(peer)
    }

    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        self.asked().changes(peer, doc, from)
    }

    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        self.asked().accept(peer, changes)
    }

    fn wants(&self, peer: DeviceId) -> Result<Vec<Wanted>, HostError> {
        self.asked().wants(peer)
    }

    fn blob(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        self.asked().blob(peer, blob)
    }

    fn keep_blob(&self, peer: DeviceId, blob: Wanted, bytes: Vec<u8>) -> Result<(), HostError> {
        self.asked().keep_blob(peer, blob, bytes)
    }

    fn part(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        self.asked().part(peer, blob)
    }

    fn keep_part(
        &self,
        peer: DeviceId,
        blob: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        self.asked().keep_part(peer, blob, from, bytes)
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
