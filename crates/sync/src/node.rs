//! One device on the network.

mod door;
mod news;

use std::fmt;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use iroh::endpoint::{ConnectOptions, ConnectingError, Connection};
use iroh::{Endpoint, EndpointAddr, EndpointId};
use tokio::sync::{RwLock, broadcast};
use tokio::task::JoinHandle;
use units::DeviceId;

use self::door::{AllowList, Door};
pub use self::news::News;
use crate::close::{Close, Lost};
use crate::exchange::{self, Report, Side};
use crate::link::Link;
use crate::link::quic::Quic;
use crate::network::{Network, Relay};
use crate::pairing::{self, Offer, Offers, OwnSide, Pairing, PairingCode};
use crate::{ExchangeError, Host, HostError, Limits, PairError, StartError, lock};

/// One device on the network: an iroh endpoint that talks to addresses it is given, to
/// devices that announce themselves and through the relay that was named, as its
/// [`Network`] says, and to nothing else.
pub struct Node {
    endpoint: Endpoint,
    relay: Option<Relay>,
    announced: bool,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    offers: Arc<Offers>,
    news: broadcast::Sender<News>,
    /// Ends when the endpoint closes.
    door: Mutex<Option<JoinHandle<()>>>,
    watch: JoinHandle<()>,
    /// Read by each meeting that this device began, until it is over.
    meetings: Arc<RwLock<()>>,
}

impl Node {
    /// Starts with the default [`Limits`]. `secret` is the device's Ed25519 secret key.
    ///
    /// # Errors
    /// The network address cannot be had.
    pub async fn start(
        secret: [u8; 32],
        network: Network,
        host: Arc<dyn Host>,
    ) -> Result<Self, StartError> {
        Self::start_within(secret, network, host, Limits::default()).await
    }

    /// Starts with other limits.
    ///
    /// # Errors
    /// The network address cannot be had.
    pub async fn start_within(
        secret: [u8; 32],
        network: Network,
        host: Arc<dyn Host>,
        limits: Limits,
    ) -> Result<Self, StartError> {
        let alpns = [exchange::ALPN, pairing::ALPN];
        let allow = AllowList(Arc::clone(&host));
        let (endpoint, mdns) = network.open(&secret, &alpns, allow).await?;
        let limits = Arc::new(limits);
        let offers = Arc::new(Offers::default());
        let door = Door::new(Arc::clone(&host), Arc::clone(&limits), Arc::clone(&offers));
        let door = tokio::spawn(door.keep(endpoint.clone()));
        let news = broadcast::Sender::new(news::UNHEARD);
        let announced = mdns.is_some();
        let watch = tokio::spawn(news::watch(&endpoint, mdns, news.clone()));
        Ok(Self {
            endpoint,
            relay: network.relay().cloned(),
            announced,
            host,
            limits,
            offers,
            news,
            door: Mutex::new(Some(door)),
            watch,
            meetings: Arc::default(),
        })
    }

    /// This device: its Ed25519 public key.
    pub fn id(&self) -> DeviceId {
        DeviceId(*self.endpoint.id().as_bytes())
    }

    /// The addresses at which this device can be reached, those of IPv4 first. If it listens
    /// on all of its networks, those that the system tells now.
    pub fn addresses(&self) -> Vec<SocketAddr> {
        let bound = self.endpoint.bound_sockets();
        if bound.iter().all(|addr| !addr.ip().is_unspecified()) {
            return bound;
        }
        let addrs = self.endpoint.addr();
        // Which link a link-local address is on, only its own machine knows.
        let far = |addr: &&SocketAddr| match addr {
            SocketAddr::V4(addr) => !addr.ip().is_link_local(),
            SocketAddr::V6(addr) => !addr.ip().is_unicast_link_local(),
        };
        addrs.ip_addrs().filter(far).copied().collect()
    }

    /// The port that this device listens on, with IPv4 if it has that.
    pub fn port(&self) -> u16 {
        let bound = self.endpoint.bound_sockets();
        let first = bound.iter().min_by_key(|addr| addr.is_ipv6());
        first.map_or(0, SocketAddr::port)
    }

    /// Whether this device announces itself, and finds others that do: multicast was wanted,
    /// and the system has it.
    pub fn announced(&self) -> bool {
        self.announced
    }

    /// What happens on the network from now on.
    pub fn news(&self) -> broadcast::Receiver<News> {
        self.news.subscribe()
    }

    /// Meets the peer and brings both sides level: at one of `addrs`, at the address that it
    /// announces, or through the relay, all tried at once. Dropping the future breaks the
    /// meeting off, which loses nothing that was taken.
    ///
    /// # Errors
    /// The meeting did not reach its end.
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
        let connecting = self.connect(peer, addrs, exchange::ALPN, &exchange::OLDER_ALPNS);
        let connection = match connecting.await {
            Ok(connection) => connection,
            Err(NoConnection::Unreachable(reason)) => {
                return Err(ExchangeError::Unreachable { reason });
            }
            Err(NoConnection::Lost(lost)) => return Err(lost.into()),
        };
        let older = connection.alpn() != exchange::ALPN;
        let link: Arc<dyn Link> = Arc::new(Quic(connection));
        if older {
            link.close(Close::Leaving);
            return Err(ExchangeError::Older);
        }
        // A task of its own: if this future is dropped the link closes, and the meeting
        // still hands over what has come and tells the host how it ended.
        let under_way = Arc::clone(&self.meetings).read_owned().await;
        let (host, limits) = (Arc::clone(&self.host), Arc::clone(&self.limits));
        let meeting = exchange::meet(Arc::clone(&link), Side::Caller, host, limits);
        let meeting = tokio::spawn(async move {
            let outcome = meeting.await;
            drop(under_way);
            outcome
        });
        let _leaving = Leaving(link);
        match meeting.await {
            Ok(outcome) => outcome,
            Err(failed) => Err(ExchangeError::Host(HostError::new(failed))),
        }
    }

    /// Opens an offer to pair; an earlier one of this node ends. `about` is handed to
    /// the other side after both people have confirmed.
    ///
    /// # Errors
    /// `about` is too large, or there are no random numbers.
    pub fn offer(&self, about: Vec<u8>) -> Result<Offer, PairError> {
        let own = self.own_side(about)?;
        let code = PairingCode::new(own.device, &short(&own.addrs), pairing::random()?);
        Ok(self.offers.open(code, own, &self.limits))
    }

    /// Answers another device's offer. `about` is handed to it after both people have
    /// confirmed.
    ///
    /// # Errors
    /// The other device is not there, or it and this one could not prove the code to each
    /// other.
    pub async fn join(&self, code: &PairingCode, about: Vec<u8>) -> Result<Pairing, PairError> {
        let own = self.own_side(about)?;
        if code.device() == own.device {
            return Err(PairError::OwnCode);
        }
        let connecting = self.connect(code.device(), code.addresses(), pairing::ALPN, &[]);
        match connecting.await {
            Ok(connection) => {
                let link = Arc::new(Quic(connection));
                pairing::join(link, code, own, Arc::clone(&self.limits)).await
            }
            Err(NoConnection::Unreachable(reason)) => Err(PairError::Unreachable { reason }),
            Err(NoConnection::Lost(lost)) => Err(lost.into()),
        }
    }

    /// Ends all meetings and the offer, takes back the announcement, and leaves the
    /// network. Then the host is called no more.
    pub async fn close(&self) {
        self.offers.close();
        self.watch.abort();
        self.endpoint.close().await;
        let door = lock(&self.door).take();
        if let Some(door) = door {
            // It ends with the endpoint; only a bug in it could make this an error.
            let _ = door.await;
        }
        drop(self.meetings.write().await);
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
        older: &[&[u8]],
    ) -> Result<Connection, NoConnection> {
        let unreachable = |reason: &dyn fmt::Display| NoConnection::Unreachable(reason.to_string());
        let id = EndpointId::from_bytes(&peer.0).map_err(|error| unreachable(&error))?;
        let mut there = EndpointAddr::new(id);
        for &addr in addrs {
            there = there.with_ip_addr(addr);
        }
        if let Some(Relay(url)) = &self.relay {
            there = there.with_relay_url(url.clone());
        }
        let older = older.iter().map(|alpn| alpn.to_vec()).collect();
        let options = ConnectOptions::new().with_additional_alpns(older);
        let connecting = async {
            let connecting = self.endpoint.connect_with_opts(there, alpn, options).await;
            let connecting = connecting.map_err(|error| unreachable(&error))?;
            connecting.await.map_err(|error| match error {
                ConnectingError::ConnectionError { source, .. } => match source.into() {
                    Lost::TimedOut => unreachable(&"no answer"),
                    Lost::Broken(reason) => NoConnection::Unreachable(reason),
                    lost => NoConnection::Lost(lost),
                },
                error => unreachable(&error),
            })
        };
        match tokio::time::timeout(self.limits.connect, connecting).await {
            Ok(connected) => connected,
            Err(late) => Err(unreachable(&late)),
        }
    }
}

/// The addresses for a code that somebody may have to type: those of IPv4, which are short,
/// where there are any.
fn short(addrs: &[SocketAddr]) -> Vec<SocketAddr> {
    let four: Vec<_> = addrs
        .iter()
        .filter(|addr| addr.is_ipv4())
        .copied()
        .collect();
    if four.is_empty() {
        addrs.to_vec()
    } else {
        four
    }
}

impl Drop for Node {
    fn drop(&mut self) {
        self.offers.close();
        self.watch.abort();
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

/// Closes a link when nobody waits for its meeting any more.
struct Leaving(Arc<dyn Link>);

impl Drop for Leaving {
    fn drop(&mut self) {
        self.0.close(Close::Leaving);
    }
}

enum NoConnection {
    Unreachable(String),
    Lost(Lost),
}
