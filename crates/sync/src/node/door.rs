//! What answers those who call.

use std::collections::{HashMap, VecDeque};
use std::convert::Infallible;
use std::fmt;
use std::sync::{Arc, Mutex};

use iroh::Endpoint;
use iroh::endpoint::{AfterHandshakeOutcome, Connection, EndpointHooks, Incoming, VarInt};
use tokio::sync::{Semaphore, oneshot};
use tokio::task::JoinSet;
use units::DeviceId;

use crate::close::Close;
use crate::exchange::{self, Side};
use crate::link::Link;
use crate::link::quic::Quic;
use crate::pairing::{self, Offers};
use crate::{Host, Limits, lock};

/// Turns strangers away as soon as their key is proven.
pub(super) struct AllowList(pub(super) Arc<dyn Host>);

impl fmt::Debug for AllowList {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("AllowList")
    }
}

impl EndpointHooks for AllowList {
    async fn after_handshake<'a>(&'a self, connection: &'a Connection) -> AfterHandshakeOutcome {
        if connection.alpn() == pairing::ALPN {
            // Whoever pairs is a stranger still; the offer decides.
            return AfterHandshakeOutcome::accept();
        }
        let host = Arc::clone(&self.0);
        let peer = DeviceId(*connection.remote_id().as_bytes());
        let known = tokio::task::spawn_blocking(move || host.knows(peer)).await;
        if known.unwrap_or(false) {
            return AfterHandshakeOutcome::accept();
        }
        AfterHandshakeOutcome::Reject {
            error_code: VarInt::from_u32(Close::Stranger.code()),
            reason: Close::Stranger.text().into(),
        }
    }
}

/// Handshakes that have begun and not ended, in the order in which they began.
///
/// Anybody can begin one, under an address that is not theirs, and never go on. So these take up no place
/// of a meeting, the many of them prove an address first, and the oldest gives way to the newest: whoever
/// means it has ended theirs long before as many others have begun.
#[derive(Default)]
struct Handshakes(VecDeque<oneshot::Sender<Infallible>>);

impl Handshakes {
    /// While so many are under way, whoever calls proves that it hears what is sent to its address.
    const UNPROVEN: usize = 32;
    /// Most that are under way at once.
    const MOST: usize = 128;

    /// Begins one more, unless the caller has to prove its address first: then it calls again. What comes
    /// with it ends when it has to give way.
    fn begin(&mut self, incoming: Incoming) -> Option<(Incoming, oneshot::Receiver<Infallible>)> {
        self.0.retain(|unfinished| !unfinished.is_closed());
        if self.0.len() >= Self::UNPROVEN && !incoming.remote_addr_validated() {
            // Only who has proven an address cannot be asked to.
            let _ = incoming.retry();
            return None;
        }
        if self.0.len() == Self::MOST {
            self.0.pop_front();
        }
        let (unfinished, gives_way) = oneshot::channel();
        self.0.push_back(unfinished);
        Some((incoming, gives_way))
    }
}

/// Answers calls until its endpoint closes.
pub(super) struct Door {
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    offers: Arc<Offers>,
    /// Places of devices that are known, and of strangers that want to pair: these take none of those.
    meetings: Semaphore,
    pairings: Semaphore,
    guests: Mutex<HashMap<DeviceId, usize>>,
}

impl Door {
    pub(super) fn new(host: Arc<dyn Host>, limits: Arc<Limits>, offers: Arc<Offers>) -> Arc<Self> {
        Arc::new(Self {
            host,
            offers,
            meetings: Semaphore::new(limits.guests),
            pairings: Semaphore::new(limits.guests),
            limits,
            guests: Mutex::default(),
        })
    }

    /// Answers calls until the endpoint closes, then waits for what they still do.
    pub(super) async fn keep(self: Arc<Self>, endpoint: Endpoint) {
        let mut handshakes = Handshakes::default();
        let mut calls = JoinSet::new();
        while let Some(incoming) = endpoint.accept().await {
            while calls.try_join_next().is_some() {}
            let Some((incoming, gives_way)) = handshakes.begin(incoming) else {
                continue;
            };
            let door = Arc::clone(&self);
            calls.spawn(async move { door.answer(incoming, gives_way).await });
        }
        calls.join_all().await;
    }

    async fn answer(&self, incoming: Incoming, gives_way: oneshot::Receiver<Infallible>) {
        let handshake = async {
            tokio::select! {
                connected = incoming.into_future() => connected.ok(),
                _ = gives_way => None,
            }
        };
        let handshake = tokio::time::timeout(self.limits.connect, handshake);
        let Ok(Some(connection)) = handshake.await else {
            return;
        };
        let limits = Arc::clone(&self.limits);
        let pairs = connection.alpn() == pairing::ALPN;
        let link: Arc<dyn Link> = Arc::new(Quic(connection));
        let places = if pairs {
            &self.pairings
        } else {
            &self.meetings
        };
        let Ok(_place) = places.try_acquire() else {
            return link.close(Close::Busy);
        };
        if pairs {
            return pairing::answer(link, &self.offers, limits).await;
        }
        let Some(_guest) = self.admit(link.peer()) else {
            return link.close(Close::Busy);
        };
        // How it went is told to the host.
        let _ = exchange::meet(link, Side::Called, Arc::clone(&self.host), limits).await;
    }

    fn admit(&self, peer: DeviceId) -> Option<Guest<'_>> {
        let mut guests = lock(&self.guests);
        let here = guests.entry(peer).or_default();
        if *here >= self.limits.guests_per_peer {
            return None;
        }
        *here += 1;
        Some(Guest { door: self, peer })
    }
}

/// One meeting that a peer began.
struct Guest<'a> {
    door: &'a Door,
    peer: DeviceId,
}

impl Drop for Guest<'_> {
    fn drop(&mut self) {
        let mut guests = lock(&self.door.guests);
        if let Some(here) = guests.get_mut(&self.peer) {
            *here -= 1;
            if *here == 0 {
                guests.remove(&self.peer);
            }
        }
    }
}
