//! One device on the network.

use std::collections::HashMap;
use std::fmt;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use iroh::endpoint::{
    AfterHandshakeOutcome, ConnectError, ConnectingError, Connection, EndpointHooks, Incoming,
    PortmapperConfig, QuicTransportConfig, VarInt, presets,
};
use iroh::{Endpoint, EndpointAddr, EndpointId, RelayMode, SecretKey};
use tokio::sync::Semaphore;
use tokio::task::{JoinHandle, JoinSet};
use units::DeviceId;

use crate::close::{Close, Lost};
use crate::exchange::{self, Report, Side};
use crate::pairing::{self, Offer, Offers, OwnSide, Pairing, PairingCode};
use crate::{ExchangeError, Host, Limits, PairError, StartError, lock};

/// One device on the network: an iroh endpoint with no relay, no look-up service and no
/// port mapping, that talks only to addresses it is given.
pub struct Node {
    endpoint: Endpoint,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    offers: Arc<Offers>,
    door: Mutex<Option<JoinHandle<()>>>,
}

impl Node {
    /// Starts with the default [`Limits`]. `secret` is the device's Ed25519 secret key;
    /// `bind` is the only address listened on (port 0: the system chooses).
    pub async fn start(
        secret: [u8; 32],
        bind: SocketAddr,
        host: Arc<dyn Host>,
    ) -> Result<Self, StartError> {
        Self::start_within(secret, bind, host, Limits::default()).await
    }

    /// Starts with other limits.
    pub async fn start_within(
        secret: [u8; 32],
        bind: SocketAddr,
        host: Arc<dyn Host>,
        limits: Limits,
    ) -> Result<Self, StartError> {
        let unusable = |reason: String| StartError::Address {
            address: bind,
            reason,
        };
        let endpoint = Endpoint::builder(presets::Minimal)
            .secret_key(SecretKey::from_bytes(&secret))
            .relay_mode(RelayMode::Disabled)
            .clear_address_lookup()
            .portmapper_config(PortmapperConfig::Disabled)
            .transport_config(transport())
            .alpns(vec![exchange::ALPN.to_vec(), pairing::ALPN.to_vec()])
            .hooks(AllowList(Arc::clone(&host)))
            .clear_ip_transports()
            .bind_addr(bind)
            .map_err(|error| unusable(error.to_string()))?
            .bind()
            .await
            .map_err(|error| unusable(error.to_string()))?;
        let limits = Arc::new(limits);
        let offers = Arc::new(Offers::default());
        let door = Door {
            host: Arc::clone(&host),
            limits: Arc::clone(&limits),
            offers: Arc::clone(&offers),
            guests: Mutex::default(),
        };
        let door = tokio::spawn(keep_door(endpoint.clone(), Arc::new(door)));
        Ok(Self {
            endpoint,
            host,
            limits,
            offers,
            door: Mutex::new(Some(door)),
        })
    }

    /// This device: its Ed25519 public key.
    pub fn id(&self) -> DeviceId {
        DeviceId(*self.endpoint.id().as_bytes())
    }

    /// The addresses at which this device can be reached. If it listens on all of its
    /// addresses, those that the system tells now.
    pub fn addresses(&self) -> Vec<SocketAddr> {
        let bound = self.endpoint.bound_sockets();
        if bound.iter().all(|addr| !addr.ip().is_unspecified()) {
            return bound;
        }
        self.endpoint.addr().ip_addrs().copied().collect()
    }

    /// Meets the peer at one of `addrs` and brings both sides level. Dropping the future
    /// breaks the meeting off, which loses nothing that was taken.
    pub async fn exchange(
        &self,
        peer: DeviceId,
        addrs: &[SocketAddr],
    ) -> Result<Report, ExchangeError> {
        let host = Arc::clone(&self.host);
        let known = tokio::task::spawn_blocking(move || host.knows(peer)).await;
        if !known.unwrap_or(false) {
            return Err(ExchangeError::Stranger);
        }
        let connection = match self.connect(peer, addrs, exchange::ALPN).await {
            Ok(connection) => connection,
            Err(NoConnection::Unreachable(reason)) => {
                return Err(ExchangeError::Unreachable { reason });
            }
            Err(NoConnection::Lost(lost)) => return Err(lost.into()),
        };
        let (host, limits) = (Arc::clone(&self.host), Arc::clone(&self.limits));
        exchange::meet(connection, Side::Caller, host, limits).await
    }

    /// Opens an offer to pair; an earlier one of this node ends. `about` is handed to
    /// the other side after both people have confirmed.
    pub fn offer(&self, about: Vec<u8>) -> Result<Offer, PairError> {
        let own = self.own_side(about)?;
        let code = PairingCode::new(own.device, &own.addrs, pairing::random()?);
        Ok(self.offers.open(code, own, &self.limits))
    }

    /// Answers another device's offer. `about` is handed to it after both people have
    /// confirmed.
    pub async fn join(&self, code: &PairingCode, about: Vec<u8>) -> Result<Pairing, PairError> {
        let own = self.own_side(about)?;
        if code.device() == own.device {
            return Err(PairError::OwnCode);
        }
        let connecting = self.connect(code.device(), code.addresses(), pairing::ALPN);
        match connecting.await {
            Ok(connection) => pairing::join(connection, code, own, Arc::clone(&self.limits)).await,
            Err(NoConnection::Unreachable(reason)) => Err(PairError::Unreachable { reason }),
            Err(NoConnection::Lost(lost)) => Err(lost.into()),
        }
    }

    /// Ends all meetings and the offer, and leaves the network.
    pub async fn close(&self) {
        self.offers.close();
        self.endpoint.close().await;
        let door = lock(&self.door).take();
        if let Some(door) = door {
            // It ends with the endpoint; only a bug in it could make this an error.
            let _ = door.await;
        }
    }

    fn own_side(&self, about: Vec<u8>) -> Result<OwnSide, PairError> {
        if about.len() > Limits::ABOUT_BYTES {
            let bytes = about.len();
            return Err(PairError::AboutTooLarge { bytes });
        }
        let mut addrs = self.addresses();
        addrs.truncate(Limits::CODE_ADDRESSES);
        Ok(OwnSide {
            device: self.id(),
            addrs,
            about,
        })
    }

    async fn connect(
        &self,
        peer: DeviceId,
        addrs: &[SocketAddr],
        alpn: &[u8],
    ) -> Result<Connection, NoConnection> {
        let unreachable = |reason: &dyn fmt::Display| NoConnection::Unreachable(reason.to_string());
        let id = EndpointId::from_bytes(&peer.0).map_err(|error| unreachable(&error))?;
        let mut there = EndpointAddr::new(id);
        for &addr in addrs {
            there = there.with_ip_addr(addr);
        }
        let connecting = self.endpoint.connect(there, alpn);
        let source = match tokio::time::timeout(self.limits.connect, connecting).await {
            Ok(Ok(connection)) => return Ok(connection),
            Ok(Err(ConnectError::Connection { source, .. })) => source,
            Ok(Err(ConnectError::Connecting {
                source: ConnectingError::ConnectionError { source, .. },
                ..
            })) => source,
            Ok(Err(error)) => return Err(unreachable(&error)),
            Err(late) => return Err(unreachable(&late)),
        };
        match source.into() {
            Lost::TimedOut => Err(unreachable(&"no answer")),
            Lost::Broken(reason) => Err(NoConnection::Unreachable(reason)),
            lost => Err(NoConnection::Lost(lost)),
        }
    }
}

impl Drop for Node {
    fn drop(&mut self) {
        self.offers.close();
        if let Some(door) = lock(&self.door).take() {
            door.abort();
        }
    }
}

impl fmt::Debug for Node {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Node")
            .field("id", &self.id())
            .finish_non_exhaustive()
    }
}

enum NoConnection {
    Unreachable(String),
    Lost(Lost),
}

/// What one connection may make this device hold: few streams, small windows, and none
/// of what these protocols do not use.
fn transport() -> QuicTransportConfig {
    QuicTransportConfig::builder()
        .max_concurrent_bidi_streams(VarInt::from_u32(4))
        .max_concurrent_uni_streams(VarInt::from_u32(0))
        .stream_receive_window(VarInt::from_u32(2 << 20))
        .receive_window(VarInt::from_u32(4 << 20))
        .send_window(4 << 20)
        .datagram_receive_buffer_size(None)
        .build()
}

/// Turns strangers away as soon as their key is proven.
struct AllowList(Arc<dyn Host>);

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
            error_code: Close::Stranger.code(),
            reason: Close::Stranger.text().into(),
        }
    }
}

/// What answers those who call.
struct Door {
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    offers: Arc<Offers>,
    guests: Mutex<HashMap<DeviceId, usize>>,
}

/// Answers calls until the endpoint closes, then waits for what they still do.
async fn keep_door(endpoint: Endpoint, door: Arc<Door>) {
    let places = Arc::new(Semaphore::new(door.limits.guests));
    let mut calls = JoinSet::new();
    while let Some(incoming) = endpoint.accept().await {
        while calls.try_join_next().is_some() {}
        let Ok(place) = Arc::clone(&places).try_acquire_owned() else {
            incoming.refuse();
            continue;
        };
        let door = Arc::clone(&door);
        calls.spawn(async move {
            door.answer(incoming).await;
            drop(place);
        });
    }
    calls.join_all().await;
}

impl Door {
    async fn answer(&self, incoming: Incoming) {
        let handshake = tokio::time::timeout(self.limits.connect, incoming.into_future());
        let Ok(Ok(connection)) = handshake.await else {
            return;
        };
        let limits = Arc::clone(&self.limits);
        if connection.alpn() == pairing::ALPN {
            return pairing::answer(connection, &self.offers, limits).await;
        }
        let peer = DeviceId(*connection.remote_id().as_bytes());
        let Some(_guest) = self.admit(peer) else {
            return Close::Busy.end(&connection);
        };
        // How it went is told to the host.
        let _ = exchange::meet(connection, Side::Called, Arc::clone(&self.host), limits).await;
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
