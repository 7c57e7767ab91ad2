//! What answers those who call.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex};

use iroh::Endpoint;
use iroh::endpoint::{AfterHandshakeOutcome, Connection, EndpointHooks, Incoming, VarInt};
use tokio::sync::Semaphore;
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

/// Answers calls until its endpoint closes.
pub(super) struct Door {
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    offers: Arc<Offers>,
    guests: Mutex<HashMap<DeviceId, usize>>,
}

impl Door {
    pub(super) fn new(host: Arc<dyn Host>, limits: Arc<Limits>, offers: Arc<Offers>) -> Arc<Self> {
        let guests = Mutex::default();
        Arc::new(Self {
            host,
            limits,
            offers,
            guests,
        })
    }

    /// Answers calls until the endpoint closes, then waits for what they still do.
    pub(super) async fn keep(self: Arc<Self>, endpoint: Endpoint) {
        let places = Arc::new(Semaphore::new(self.limits.guests));
        let mut calls = JoinSet::new();
        while let Some(incoming) = endpoint.accept().await {
            while calls.try_join_next().is_some() {}
            let Ok(place) = Arc::clone(&places).try_acquire_owned() else {
                incoming.refuse();
                continue;
            };
            let door = Arc::clone(&self);
            calls.spawn(async move {
                door.answer(incoming).await;
                drop(place);
            });
        }
        calls.join_all().await;
    }

    async fn answer(&self, incoming: Incoming) {
        let handshake = tokio::time::timeout(self.limits.connect, incoming.into_future());
        let Ok(Ok(connection)) = handshake.await else {
            return;
        };
        let limits = Arc::clone(&self.limits);
        let pairs = connection.alpn() == pairing::ALPN;
        let link: Arc<dyn Link> = Arc::new(Quic(connection));
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
