//! Two devices made known to each other by a code and by two people.
//!
//! ALPN `pothook/pair/1`. One device *offers*: it shows a [`PairingCode`] with its public
//! key, its addresses and a one-time secret. The other *joins*: it connects to that very
//! key. Frames on one stream, in order (see the crate's `frame` module for their layout):
//!
//! | from | frame | holds |
//! |---|---|---|
//! | joining | `Knock` | version, commitment = BLAKE3 of its nonce |
//! | offering | `Challenge` | its nonce |
//! | joining | `Proof` | its nonce, MAC "join " |
//! | offering | `CounterProof` | MAC "offer" |
//! | both | `Confirmed` | when its person has confirmed |
//! | joining | `About` | its payload and addresses, once both have confirmed |
//! | offering | `About` | likewise |
//! | joining | `Kept` | that it has all; the offering device then closes |
//!
//! Both MACs are keyed BLAKE3 over a label, both device keys and both nonces, under a key
//! derived from the secret. The first four bytes of a third one, labelled "words", pick
//! the words that both people compare.
//!
//! What this withstands, and how:
//!
//! - *Guessing the secret*: 128 bits, and the offer closes after a few wrong tries.
//! - *A device in the middle*: the code holds the offering device's key, which TLS
//!   proves; the MACs cover both keys, so relayed proofs do not fit other keys. One that
//!   pairs with both sides, the one by its code and the other by a code of its own, shows
//!   them different words.
//! - *An onlooker who copies the code and joins first*: the offer is then used up, the
//!   rightful device is refused and has no words to compare, so nobody confirms.
//! - *Choosing nonces to get wanted words*: the joining device is committed to its nonce
//!   before it sees the other's, and the other's is sent before this one is shown.
//!
//! If the connection breaks between the last two frames, the joining device may know the
//! other and not be known by it. It is then a stranger there; pairing again mends it.

mod base32;
mod code;
mod handshake;
mod offer;
mod proof;
mod words;

use std::fmt;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::time::Instant;
use units::DeviceId;

use crate::close::{Close, Lost};
use crate::frame::{About, AtMost, Confirmed, FrameError, Kept, Octets};
use crate::link::{Link, Reader, Writer};
use crate::wire::{Wire, WireError};
use crate::{Limits, PairError};

pub use code::{CodeError, PairingCode};
pub(crate) use handshake::{answer, join, random};
pub use offer::Offer;
pub(crate) use offer::Offers;

pub(crate) const ALPN: &[u8] = b"pothook/pair/1";
pub(crate) const VERSION: u16 = 1;

/// Bytes as a text like a pairing code's, that finds a slip out by itself: for keys that
/// people write down.
pub fn to_text(bytes: &[u8]) -> String {
    base32::encode(bytes)
}

/// The bytes of [`to_text`]'s text.
///
/// # Errors
/// It has a slip, or is not such a text.
pub fn from_text(text: &str) -> Result<Vec<u8>, CodeError> {
    base32::decode(text)
}

/// What a device hands over, and where it can be reached.
#[derive(Debug, Clone)]
pub(crate) struct OwnSide {
    pub(crate) device: DeviceId,
    pub(crate) addrs: Vec<SocketAddr>,
    pub(crate) about: Vec<u8>,
}

/// A link and the one stream of a pairing on it.
struct Thread {
    link: Arc<dyn Link>,
    send: Writer,
    recv: Reader,
}

impl fmt::Debug for Thread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.link.fmt(f)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    Offering,
    Joining,
}

/// Two devices that proved the secret to each other and wait for their people.
/// Dropping it refuses.
#[derive(Debug)]
pub struct Pairing {
    /// The other device.
    pub peer: DeviceId,
    /// The addresses at which it was reached.
    pub addrs: Vec<SocketAddr>,
    /// The words to compare: both devices show the same.
    pub words: [&'static str; 4],
    role: Role,
    own: OwnSide,
    thread: Thread,
    limits: Arc<Limits>,
    deadline: Instant,
    /// What the other side is told when this is dropped.
    end: Close,
}

/// What a pairing gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paired {
    /// The other device.
    pub peer: DeviceId,
    /// The addresses at which it was reached, then those that it told.
    pub addrs: Vec<SocketAddr>,
    /// What the other side handed over.
    pub about: Vec<u8>,
}

impl Pairing {
    fn new(
        role: Role,
        words: [&'static str; 4],
        own: OwnSide,
        thread: Thread,
        limits: &Arc<Limits>,
    ) -> Self {
        Self {
            peer: thread.link.peer(),
            addrs: thread.link.addrs(),
            words,
            role,
            own,
            thread,
            deadline: Instant::now() + limits.offer,
            limits: Arc::clone(limits),
            end: Close::Refused,
        }
    }

    /// Says that the words are the same, and waits for the other side to say so too.
    pub async fn confirm(mut self) -> Result<Paired, PairError> {
        let deadline = self.deadline;
        let outcome = match tokio::time::timeout_at(deadline, self.both_confirm()).await {
            Ok(Ok(())) => self.hand_over().await,
            Ok(Err(error)) => Err(error),
            Err(_) => Err(PairError::Expired),
        };
        self.end = closing(&outcome);
        outcome
    }

    /// Says that the words differ, or that this device is not to be paired.
    pub fn refuse(self) {}

    /// Takes the link and the stream away, for a peer that goes on in its own way.
    #[cfg(any(test, feature = "fuzz"))]
    pub(crate) fn take_thread(&mut self) -> (Arc<dyn Link>, (Writer, Reader)) {
        let Thread { link, send, recv } = &mut self.thread;
        let send = std::mem::replace(send, Box::new(tokio::io::sink()));
        let recv = std::mem::replace(recv, Box::new(tokio::io::empty()));
        (Arc::clone(link), (send, recv))
    }

    async fn both_confirm(&mut self) -> Result<(), PairError> {
        // Only the deadline ends the wait for a person.
        let patient = Wire::new(Duration::MAX);
        patient.write(&mut self.thread.send, &Confirmed {}).await?;
        let Confirmed {} = patient.read(&mut self.thread.recv).await?;
        Ok(())
    }

    async fn hand_over(&mut self) -> Result<Paired, PairError> {
        let wire = Wire::new(self.limits.quiet);
        let own = About {
            about: Octets(std::mem::take(&mut self.own.about)),
            addresses: AtMost(std::mem::take(&mut self.own.addrs)),
        };
        let theirs: About = match self.role {
            Role::Joining => {
                wire.write(&mut self.thread.send, &own).await?;
                let theirs = wire.read(&mut self.thread.recv).await?;
                wire.write(&mut self.thread.send, &Kept {}).await?;
                // All is here already: how the connection ends changes nothing.
                let _ = tokio::time::timeout(self.limits.connect, self.thread.link.closed()).await;
                theirs
            }
            Role::Offering => {
                let theirs = wire.read(&mut self.thread.recv).await?;
                wire.write(&mut self.thread.send, &own).await?;
                let Kept {} = wire.read(&mut self.thread.recv).await?;
                theirs
            }
        };
        let mut addrs = self.addrs.clone();
        for addr in theirs.addresses.0 {
            if !addrs.contains(&addr) {
                addrs.push(addr);
            }
        }
        Ok(Paired {
            peer: self.peer,
            addrs,
            about: theirs.about.0,
        })
    }
}

impl Drop for Pairing {
    fn drop(&mut self) {
        self.thread.link.close(self.end);
    }
}

/// What the other side is told at the end.
fn closing<T>(outcome: &Result<T, PairError>) -> Close {
    match outcome {
        Ok(_) => Close::Done,
        Err(PairError::Expired) => Close::Expired,
        Err(PairError::Unproven) => Close::Unproven,
        Err(PairError::Newer) => Close::Older,
        Err(PairError::Malformed { .. }) => Close::Malformed,
        Err(PairError::Quiet) => Close::Quiet,
        Err(_) => Close::Refused,
    }
}

impl From<WireError> for PairError {
    fn from(error: WireError) -> Self {
        match error {
            WireError::Frame(FrameError::Newer) => Self::Newer,
            WireError::Frame(FrameError::TooLarge(what) | FrameError::Malformed(what)) => {
                Self::Malformed { what }
            }
            WireError::Lost(lost) => lost.into(),
            WireError::Stream => Self::Malformed {
                what: "end of the stream",
            },
            WireError::Quiet => Self::Quiet,
        }
    }
}

impl From<Lost> for PairError {
    fn from(lost: Lost) -> Self {
        let broken = |reason: &str| Self::Interrupted {
            reason: reason.into(),
        };
        match lost {
            Lost::Closed(reason) => match reason {
                Close::NoOffer => Self::NoOffer,
                Close::WrongSecret => Self::WrongSecret,
                Close::TooManyTries => Self::TooManyTries,
                Close::Refused => Self::Refused,
                Close::Expired => Self::Expired,
                Close::Older => Self::Older,
                Close::Busy => Self::Busy,
                Close::Quiet => Self::Quiet,
                other => broken(other.text()),
            },
            Lost::Here => Self::Cancelled,
            Lost::Refused => Self::Busy,
            Lost::NoProtocol => Self::Newer,
            Lost::TimedOut => Self::Quiet,
            Lost::Broken(reason) => broken(&reason),
        }
    }
}
