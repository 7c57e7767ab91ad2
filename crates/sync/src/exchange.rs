//! Two devices that know each other, brought level in one meeting.
//!
//! ALPN `pothook/exchange/1`, over iroh (QUIC, TLS 1.3, both devices proven by their
//! Ed25519 keys). Right after the handshake, before anything sent is read, each side
//! asks its own [`Host::knows`] about the other's key and closes on a stranger.
//!
//! The device that called opens one stream both ways, the *thread*. On it, from both
//! sides alike, go frames: the length of the body (four bytes, big-endian), a tag (one
//! byte), and the body (postcard, its fields as in the crate's `frame` module):
//!
//! 1. `Hello`: the sender's version and how much it takes at most; then `Have`: the
//!    documents that the other may see, each with its number of changes here.
//! 2. `Changes`, in batches, the last one marked: what the other's `Have` lacks, by
//!    documents in the order of `Have`, each from the first missing change on. Every
//!    batch is handed to [`Host::accept`] before the next is read.
//! 3. When the last batch is in, each side asks for the blobs that it then
//!    [wants](Host::wants), each on a stream of its own: `Ask` with an offset, answered
//!    by `Answer` and, if held, by the bytes from that offset to the end. If such a
//!    stream breaks, the rest is asked for on a new one. Bytes are kept only if they
//!    hash to the blob's name.
//! 4. `Done`: what the sender took. The caller sends it first and closes after it has
//!    read the other's; a summary that does not fit what was sent is an error.
//!
//! Nothing here has state between meetings. A meeting that breaks has taken whole
//! changes and whole blobs; the next one begins with what is there. A device that sees a
//! version, or a tag, above its own closes with *this device is older*; a newer
//! device that meets an older one must call with the older ALPN.

mod blobs;
mod changes;

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use iroh::endpoint::{Connection, RecvStream, SendStream};
use units::DeviceId;

use crate::close::{Close, Lost};
use crate::frame::{AtMost, Done, FrameError, Have, Hello, Octets};
use crate::wire::{Wire, WireError};
use crate::{ExchangeError, Host, HostError, Limits, lock};

pub(crate) const ALPN: &[u8] = b"pothook/exchange/1";
const VERSION: u16 = 1;

/// What one exchange moved, as this device saw it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Report {
    /// Changes sent.
    pub sent_changes: u64,
    /// Changes that came, new or not.
    pub arrived_changes: u64,
    /// Changes that came and were new here.
    pub received_changes: u64,
    /// Changes that came and were refused here.
    pub refused_changes: u64,
    /// Documents of which the rest cannot be sent, because the next change is larger
    /// than [`Limits::CHANGE_BYTES`].
    pub held_back_documents: u64,
    /// Blobs that the peer took.
    pub sent_blobs: u64,
    /// Blobs that came, were checked and kept.
    pub received_blobs: u64,
    /// Blobs whose bytes were not those asked for.
    pub refused_blobs: u64,
    /// Blobs asked for that the peer does not have.
    pub missing_blobs: u64,
    /// Whether something, on either side, waits for another meeting because of the
    /// limits of one.
    pub more: bool,
    /// Bytes sent and received, before encryption.
    pub bytes: u64,
}

/// Who called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Caller,
    Called,
}

/// Holds one meeting from the handshake to its end, and tells the host of it.
pub(crate) async fn meet(
    connection: Connection,
    side: Side,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
) -> Result<Report, ExchangeError> {
    let peer = DeviceId(*connection.remote_id().as_bytes());
    let addrs = reached_at(&connection);
    let meeting = Meeting {
        wire: Wire::new(limits.quiet),
        tally: Mutex::default(),
        connection,
        peer,
        host,
        limits,
    };
    let length = meeting.limits.meeting;
    let outcome = match tokio::time::timeout(length, meeting.run(side)).await {
        Ok(outcome) => outcome,
        Err(_) => Err(ExchangeError::Quiet),
    };
    closing(&outcome).end(&meeting.connection);
    let host = meeting.host;
    blocking(move || {
        if outcome.is_ok() {
            host.met(peer, addrs);
        }
        host.ended(peer, outcome.as_ref());
        Ok(outcome)
    })
    .await?
}

/// The addresses at which the peer of a connection was reached.
pub(crate) fn reached_at(connection: &Connection) -> Vec<SocketAddr> {
    let paths = connection.paths();
    let addrs = paths.iter().filter_map(|path| match path.remote_addr() {
        iroh::TransportAddr::Ip(addr) => Some(*addr),
        _ => None,
    });
    let mut addrs: Vec<_> = addrs.collect();
    addrs.sort_unstable();
    addrs.dedup();
    addrs
}

/// Runs a call of the host where blocking is allowed.
async fn blocking<T: Send + 'static>(
    call: impl FnOnce() -> Result<T, HostError> + Send + 'static,
) -> Result<T, ExchangeError> {
    match tokio::task::spawn_blocking(call).await {
        Ok(outcome) => outcome.map_err(ExchangeError::Host),
        Err(failed) => Err(ExchangeError::Host(HostError::new(failed))),
    }
}

/// One meeting under way.
struct Meeting {
    connection: Connection,
    peer: DeviceId,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    wire: Wire,
    tally: Mutex<Report>,
}

impl Meeting {
    async fn run(&self, side: Side) -> Result<Report, ExchangeError> {
        let (send, recv) = match side {
            Side::Caller => self.wire.wait(self.connection.open_bi()).await?,
            Side::Called => self.wire.wait(self.connection.accept_bi()).await?,
        };
        tokio::select! {
            outcome = self.talk(side, send, recv) => outcome,
            error = self.serve_blobs() => Err(error),
        }
    }

    async fn talk(
        &self,
        side: Side,
        mut send: SendStream,
        mut recv: RecvStream,
    ) -> Result<Report, ExchangeError> {
        let have = self.documents().await?;
        let ((), theirs) = tokio::try_join!(self.greet(&mut send, &have), self.hear(&mut recv))?;
        tokio::try_join!(
            self.send_changes(&mut send, &have, &theirs),
            self.take_changes(&mut recv)
        )?;
        self.fetch_blobs().await?;
        self.part(side, &mut send, &mut recv).await
    }

    /// Asks the host, where blocking is allowed.
    async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Host, DeviceId) -> Result<T, HostError> + Send + 'static,
    ) -> Result<T, ExchangeError> {
        let (host, peer) = (Arc::clone(&self.host), self.peer);
        blocking(move || question(&*host, peer)).await
    }

    fn tally<T>(&self, note: impl FnOnce(&mut Report) -> T) -> T {
        note(&mut lock(&self.tally))
    }

    async fn documents(&self) -> Result<Vec<(Vec<u8>, u64)>, ExchangeError> {
        let have = self.ask(|host, peer| host.have(peer)).await?;
        let long = |(id, _): &(Vec<u8>, u64)| id.len() > Limits::DOCUMENT_ID_BYTES;
        if have.len() > Limits::DOCUMENTS || have.iter().any(long) {
            let what = "more documents, or longer names of them, than a meeting holds";
            return Err(ExchangeError::Host(HostError::new(what)));
        }
        Ok(have)
    }

    async fn greet(
        &self,
        send: &mut SendStream,
        have: &[(Vec<u8>, u64)],
    ) -> Result<(), ExchangeError> {
        let hello = Hello {
            version: VERSION,
            changes: self.limits.changes,
            change_bytes: self.limits.change_bytes,
        };
        self.wire.write(send, &hello).await?;
        let documents = have.iter().map(|(id, count)| (Octets(id.clone()), *count));
        let have = Have {
            documents: AtMost(documents.collect()),
        };
        Ok(self.wire.write(send, &have).await?)
    }

    async fn hear(&self, recv: &mut RecvStream) -> Result<changes::Theirs, ExchangeError> {
        let hello: Hello = self.wire.read(recv).await?;
        match hello.version {
            VERSION => {}
            0 => return Err(ExchangeError::Malformed { what: "greeting" }),
            _ => return Err(ExchangeError::Newer),
        }
        let have: Have = self.wire.read(recv).await?;
        Ok(changes::Theirs::new(&self.limits, &hello, have))
    }

    /// Exchanges summaries. The called side speaks last and the caller closes, so that
    /// nothing is cut off by closing.
    async fn part(
        &self,
        side: Side,
        send: &mut SendStream,
        recv: &mut RecvStream,
    ) -> Result<Report, ExchangeError> {
        match side {
            Side::Caller => {
                self.say_done(send).await?;
                self.hear_done(recv).await?;
            }
            Side::Called => {
                self.hear_done(recv).await?;
                self.say_done(send).await?;
                // All is taken already: how the connection ends changes nothing.
                let _ = tokio::time::timeout(GOODBYE, self.connection.closed()).await;
            }
        }
        let mut report = self.tally(|tally| *tally);
        report.bytes = self.wire.moved();
        Ok(report)
    }

    async fn say_done(&self, send: &mut SendStream) -> Result<(), ExchangeError> {
        let done = self.tally(|tally| Done {
            changes: tally.arrived_changes,
            refused: tally.refused_changes,
            blobs: tally.received_blobs,
            more: tally.more,
        });
        self.wire.write(send, &done).await?;
        // Fails only if the peer has stopped the stream, which the next read tells.
        let _ = send.finish();
        Ok(())
    }

    async fn hear_done(&self, recv: &mut RecvStream) -> Result<(), ExchangeError> {
        let done: Done = self.wire.read(recv).await?;
        let fits = self.tally(|tally| {
            tally.sent_blobs = done.blobs;
            tally.more |= done.more;
            done.changes == tally.sent_changes && done.refused <= done.changes
        });
        if fits {
            Ok(())
        } else {
            Err(ExchangeError::Malformed { what: "summary" })
        }
    }
}

/// How long the called side waits for the caller to close.
const GOODBYE: Duration = Duration::from_secs(5);

/// What the peer is told at the end.
fn closing(outcome: &Result<Report, ExchangeError>) -> Close {
    use ExchangeError as E;
    match outcome {
        Ok(_) => Close::Done,
        Err(E::Stranger) => Close::Stranger,
        Err(E::Newer) => Close::Older,
        Err(E::TooMuch { .. }) => Close::TooMuch,
        Err(E::Host(_)) => Close::Host,
        Err(E::Quiet) => Close::Quiet,
        Err(E::Closed) => Close::Leaving,
        Err(_) => Close::Malformed,
    }
}

impl From<WireError> for ExchangeError {
    fn from(error: WireError) -> Self {
        match error {
            WireError::Frame(FrameError::Newer) => Self::Newer,
            WireError::Frame(FrameError::TooLarge(what)) => Self::TooMuch { what },
            WireError::Frame(FrameError::Malformed(what)) => Self::Malformed { what },
            WireError::Lost(lost) => lost.into(),
            WireError::Stream => Self::Malformed {
                what: "end of the stream",
            },
            WireError::Quiet => Self::Quiet,
        }
    }
}

impl From<Lost> for ExchangeError {
    fn from(lost: Lost) -> Self {
        match lost {
            Lost::Closed(reason) => match reason {
                Close::Stranger => Self::NotKnown,
                Close::Older => Self::Older,
                Close::Malformed | Close::TooMuch => Self::Refused,
                Close::Host => Self::PeerHost,
                Close::Quiet => Self::Quiet,
                Close::Busy => Self::Busy,
                Close::Leaving => Self::Closed,
                other => Self::Interrupted {
                    reason: other.text().into(),
                },
            },
            Lost::Here => Self::Closed,
            Lost::Refused => Self::Busy,
            Lost::NoProtocol => Self::Newer,
            Lost::TimedOut => Self::Quiet,
            Lost::Broken(reason) => Self::Interrupted { reason },
        }
    }
}
