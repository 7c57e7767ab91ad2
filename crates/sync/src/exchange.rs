//! Two devices that know each other, brought level in one meeting.
//!
//! ALPN `pothook/exchange/3`, over iroh (QUIC, TLS 1.3, both devices proven by their
//! Ed25519 keys). Right after the handshake, before anything sent is read, each side
//! asks its own [`Host::knows`] about the other's key and closes on a stranger.
//!
//! The device that called opens one stream both ways, the *thread*. On it go frames: the
//! length of the body (four bytes, big-endian), a tag (one byte), and the body (postcard,
//! its fields as in the crate's `frame` module):
//!
//! 1. `Hello`, the caller first: version, how much the sender takes at most, and a digest
//!    of its list of documents. `Have`, the list itself: the documents that the other may
//!    see, each with its number of changes here. The caller lets a short list follow its
//!    greeting at once. Whoever finds that the digests differ sends its list; if they are
//!    the same, no list and no changes follow.
//! 2. `Changes`, both ways at once, in batches, the last one marked: what the other's
//!    `Have` lacks, by documents in the order of the sender's `Have`, each from the first
//!    missing change on. Every batch is handed to [`Host::accept`] before the next is read,
//!    and [`Host::knows`] is asked again after it.
//! 3. When the last batch is in, each side asks for the blobs that it then
//!    [wants](Host::wants), a few at a time, each on a stream of its own. `Ask` holds the
//!    scope, the name and how many bytes are here already. `Answer` says that the blob is missing,
//!    that this meeting holds no more, or how long it is; then follow its *outline*, the
//!    BLAKE3 chaining values of its groups of 64 KiB (nothing for a blob of one group), and
//!    its bytes from there on to the stream's end. The asking side checks that the outline
//!    joins to the name and that each group fits the outline once it is whole. Something
//!    wrong ends this blob and nothing else. If a stream breaks, the rest is asked for on a
//!    new one; if a meeting breaks, the checked groups are handed to [`Host::keep_part`],
//!    and the next meeting asks for the rest.
//! 4. `Done`: what the sender took. The caller sends it first and closes after it has
//!    read the other's; a summary that does not fit what was sent is an error.
//!
//! Without news and with nothing wanted a meeting is two greetings, perhaps one short list,
//! and two summaries: below 1 KiB whatever there is. New changes are with both devices two
//! round trips after the handshake, one and a half if the caller's list is short.
//!
//! What each side may see is the host's to say. Its list is made once, at the beginning;
//! what a batch brings into view, or takes out of it, is heeded from the next call on, and
//! what the list does not hold waits for another meeting: [`Taken::again`](crate::Taken)
//! makes [`Report::more`] true on both sides. A blob that is not for the peer's eyes is
//! answered as a missing one: the same frame, no sooner than
//! [`Limits::MISSING`] after the question. What remains is the time that the host itself
//! takes beyond that.
//!
//! Nothing here has state between meetings. A meeting that breaks has taken whole changes, whole blobs
//! and checked parts of blobs; the next one begins with what is there. A device that sees a
//! version, or a tag, above its own closes with *this device is older*; a caller also offers
//! the older ALPNs, only to tell an older device from one that it does not understand.

mod changes;
mod fetch;
mod greeting;
mod progress;
mod serve;

use std::sync::{Arc, Mutex};
use std::time::Duration;

use units::DeviceId;

use self::fetch::{Part, Whole};
use self::progress::Track;
use crate::close::{Close, Lost};
use crate::frame::{Done, FrameError};
use crate::link::{Calls, Link, Reader, Writer};
use crate::wire::{Wire, WireError};
use crate::{ExchangeError, Host, HostError, Limits, lock};

pub(crate) const ALPN: &[u8] = b"pothook/exchange/3";
/// What older devices speak.
pub(crate) const OLDER_ALPNS: [&[u8]; 2] = [b"pothook/exchange/2", b"pothook/exchange/1"];
pub(crate) const VERSION: u16 = 3;
/// Blobs asked for at a time.
const LANES: usize = 4;

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
    /// Whether something, on either side, waits for another meeting: because of the limits
    /// of one, or because a host asked for it ([`Taken::again`](crate::Taken::again)).
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
    link: Arc<dyn Link>,
    side: Side,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
) -> Result<Report, ExchangeError> {
    let (peer, addrs, calls) = (link.peer(), link.addrs(), link.calls());
    let meeting = Meeting {
        wire: Wire::new(limits.quiet),
        tally: Mutex::default(),
        track: Mutex::default(),
        cut_short: Mutex::default(),
        whole: Whole::new(),
        had: Mutex::default(),
        link,
        peer,
        host,
        limits,
    };
    let length = meeting.limits.meeting;
    let mut outcome = match tokio::time::timeout(length, meeting.run(side)).await {
        Ok(outcome) => outcome,
        Err(_) => Err(ExchangeError::Quiet),
    };
    if matches!(outcome, Err(ExchangeError::Malformed { what: STREAM_ENDS })) {
        // Whoever ends a meeting lets go of its streams; the reason comes after that.
        if let Ok(lost) = tokio::time::timeout(GOODBYE, meeting.link.closed()).await {
            outcome = Err(lost.into());
        }
    }
    meeting.link.close(closing(&outcome));
    let host = meeting.host;
    let parts = meeting.cut_short.into_inner().unwrap_or_default();
    let whole = meeting.whole.left();
    let had = meeting.had.into_inner().unwrap_or_default();
    let end = move || {
        // Why the meeting ended is told already; without this they come once more.
        for (blob, bytes) in whole {
            let _ = host.keep_blob(peer, blob, bytes);
        }
        for Part { blob, from, bytes } in parts {
            let _ = host.keep_part(peer, blob, from, bytes);
        }
        if outcome.is_ok() {
            host.met(peer, addrs);
        }
        host.ended(peer, &had, outcome.as_ref());
        Ok(outcome)
    };
    run(calls, end).await?
}

/// Runs a call of the host where it may block.
async fn run<T: Send + 'static>(
    calls: Calls,
    call: impl FnOnce() -> Result<T, HostError> + Send + 'static,
) -> Result<T, ExchangeError> {
    let outcome = match calls {
        Calls::Inline => call(),
        Calls::Pooled => match tokio::task::spawn_blocking(call).await {
            Ok(outcome) => outcome,
            Err(failed) => Err(HostError::new(failed)),
        },
    };
    outcome.map_err(ExchangeError::Host)
}

/// How much more this meeting holds of something.
struct Room(u64);

impl Room {
    /// Takes from it, if there is enough.
    fn take(&mut self, amount: u64) -> bool {
        let rest = self.0.checked_sub(amount);
        self.0 = rest.unwrap_or(self.0);
        rest.is_some()
    }
}

/// One meeting under way.
struct Meeting {
    link: Arc<dyn Link>,
    peer: DeviceId,
    host: Arc<dyn Host>,
    limits: Arc<Limits>,
    wire: Wire,
    tally: Mutex<Report>,
    track: Mutex<Track>,
    /// Blobs whose way was cut short, for the host to keep what was checked.
    cut_short: Mutex<Vec<Part>>,
    /// Blobs that came whole and are not kept yet.
    whole: Whole,
    /// What the host told of its documents.
    had: Mutex<Vec<(Vec<u8>, u64)>>,
}

impl Meeting {
    async fn run(&self, side: Side) -> Result<Report, ExchangeError> {
        let (send, recv) = match side {
            Side::Caller => self.wire.wait(self.link.open()).await?,
            Side::Called => self.wire.wait(self.link.accept()).await?,
        };
        // In this order each time: the same meeting has the same steps.
        tokio::select! {
            biased;
            outcome = self.talk(side, send, recv) => outcome,
            error = self.serve_blobs() => Err(error),
            never = self.tell_progress() => match never {},
        }
    }

    async fn talk(
        &self,
        side: Side,
        mut send: Writer,
        mut recv: Reader,
    ) -> Result<Report, ExchangeError> {
        let have = self.documents().await?;
        lock(&self.had).clone_from(&have);
        let theirs = self.greet(side, &mut send, &mut recv, &have).await?;
        if let Some(theirs) = theirs {
            self.exchange_changes(&mut send, &mut recv, &have, &theirs)
                .await?;
        }
        self.fetch_blobs().await?;
        self.take_leave(side, &mut send, &mut recv).await
    }

    /// Asks the host.
    async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Host, DeviceId) -> Result<T, HostError> + Send + 'static,
    ) -> Result<T, ExchangeError> {
        let (host, peer) = (Arc::clone(&self.host), self.peer);
        run(self.link.calls(), move || question(&*host, peer)).await
    }

    fn tally<T>(&self, note: impl FnOnce(&mut Report) -> T) -> T {
        note(&mut lock(&self.tally))
    }

    /// Exchanges summaries. The called side speaks last and the caller closes, so that
    /// nothing is cut off by closing.
    async fn take_leave(
        &self,
        side: Side,
        send: &mut Writer,
        recv: &mut Reader,
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
                let _ = tokio::time::timeout(GOODBYE, self.link.closed()).await;
            }
        }
        let mut report = self.tally(|tally| *tally);
        report.bytes = self.wire.sent() + self.wire.received();
        Ok(report)
    }

    async fn say_done(&self, send: &mut Writer) -> Result<(), ExchangeError> {
        let done = self.tally(|tally| Done {
            changes: tally.arrived_changes,
            refused: tally.refused_changes,
            blobs: tally.received_blobs,
            more: tally.more,
        });
        self.wire.write(send, &done).await?;
        self.wire.finish(send).await;
        Ok(())
    }

    async fn hear_done(&self, recv: &mut Reader) -> Result<(), ExchangeError> {
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

/// How long one side waits for the other to close.
const GOODBYE: Duration = Duration::from_secs(5);
/// A stream ends before all was said on it.
const STREAM_ENDS: &str = "end of the stream";

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

/// Why something on a stream of its own came to no end.
enum Halt {
    /// The wire; the meeting may go on if it was only that stream.
    Wire(WireError),
    /// The meeting ends.
    Meeting(ExchangeError),
}

impl<E> From<E> for Halt
where
    WireError: From<E>,
{
    fn from(error: E) -> Self {
        Self::Wire(error.into())
    }
}

impl From<ExchangeError> for Halt {
    fn from(error: ExchangeError) -> Self {
        Self::Meeting(error)
    }
}

impl From<Halt> for ExchangeError {
    fn from(halt: Halt) -> Self {
        match halt {
            Halt::Wire(error) => error.into(),
            Halt::Meeting(error) => error,
        }
    }
}

impl From<WireError> for ExchangeError {
    fn from(error: WireError) -> Self {
        match error {
            WireError::Frame(FrameError::Newer) => Self::Newer,
            WireError::Frame(FrameError::TooLarge(what)) => Self::TooMuch { what },
            WireError::Frame(FrameError::Malformed(what)) => Self::Malformed { what },
            WireError::Lost(lost) => lost.into(),
            WireError::Stream => Self::Malformed { what: STREAM_ENDS },
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
