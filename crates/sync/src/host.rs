//! What a meeting asks of the device that it runs on.

use std::error::Error;
use std::fmt;
use std::net::SocketAddr;

use units::{BlobId, DeviceId};

use crate::{ExchangeError, Report};

/// A blob as documents name it. Documents of two scopes may name the same bytes; a peer that shares the
/// one scope with this device is to learn nothing of the other, so both sides always say which is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Wanted {
    /// Within which documents; opaque here.
    pub scope: [u8; 16],
    /// BLAKE3 of its bytes.
    pub id: BlobId,
}

/// The device's own side of every meeting.
///
/// All methods may block: each is called on a thread kept for blocking work (in a
/// meeting in [memory](crate::memory), on the meeting's own). Several meetings may run at
/// once, and one meeting asks for several blobs at once, so calls may overlap.
///
/// A *document* is a list of changes that only grows, numbered from 0 in the order in
/// which they must be taken. Its id is opaque and at most
/// [`Limits::DOCUMENT_ID_BYTES`](crate::Limits::DOCUMENT_ID_BYTES) long.
pub trait Host: Send + Sync + 'static {
    /// Whether this device may meet the peer. A stranger is closed right after the
    /// handshake, before anything that it sent is read. Asked again after each batch that
    /// was accepted: if the peer is no longer known then, the meeting ends.
    fn knows(&self, peer: DeviceId) -> bool;

    /// The documents that this peer may see, each with the number of its changes here.
    /// Changes are sent in this order, so documents that decide who may see what belong
    /// first. Documents not named here are never asked for. Asked once for a meeting.
    fn have(&self, peer: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError>;

    /// Changes of `doc` from number `from` on. May be a first part of them only: the
    /// rest is asked for again until the number told by [`have`](Self::have) is reached
    /// or nothing comes. Each is at most
    /// [`Limits::CHANGE_BYTES`](crate::Limits::CHANGE_BYTES); a larger one is not sent,
    /// nor what follows it in its document. Nothing, where the peer may not see the
    /// document any more.
    fn changes(&self, peer: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError>;

    /// Takes changes from the peer, in the order in which it sent them. The host checks
    /// who wrote each, and writes before it returns: what is counted as taken is safe.
    /// The same change may come again and is then `known`.
    fn accept(&self, peer: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError>;

    /// Blobs that documents name and this device lacks, the most wanted first: small ones
    /// before large ones, so that much is there soon.
    fn wants(&self, peer: DeviceId) -> Result<Vec<Wanted>, HostError>;

    /// A blob, if it is here within that scope and the peer may see it. The peer is answered alike where
    /// it is missing and where it is not for its eyes, and where it is larger than
    /// [`Limits::BLOB_BYTES`](crate::Limits::BLOB_BYTES): in the same bytes, and not
    /// before [`Limits::MISSING`](crate::Limits::MISSING) has passed. So that the time
    /// tells nothing either, ask first whether the peer may see it, and only then the disk.
    fn blob(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError>;

    /// Keeps a wanted blob. Its bytes do hash to its id. What was kept of it by
    /// [`keep_part`](Self::keep_part) is needed no more. Called while others are on their way, and for those
    /// that came whole also when a meeting breaks.
    fn keep_blob(&self, peer: DeviceId, blob: Wanted, bytes: Vec<u8>) -> Result<(), HostError>;

    /// The first bytes of a wanted blob, as [`keep_part`](Self::keep_part) left them: only
    /// the rest is asked for. They are checked again before they are used.
    fn part(&self, peer: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        let _ = (peer, blob);
        Ok(None)
    }

    /// Keeps bytes of a blob that is not whole yet, checked, from byte `from` on: what was
    /// kept before that byte stays, what was kept from it on is replaced. Called while a
    /// large blob arrives and when its stream or meeting breaks. A host that does not keep
    /// them has the blob sent from its start the next time.
    fn keep_part(
        &self,
        peer: DeviceId,
        blob: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        let _ = (peer, blob, from, bytes);
        Ok(())
    }

    /// How far a meeting is. Called when something has moved, four times a second at most,
    /// and never in a meeting that is over sooner.
    fn progress(&self, peer: DeviceId, progress: Progress) {
        let _ = (peer, progress);
    }

    /// A meeting ended well; the peer was reached at these addresses.
    fn met(&self, peer: DeviceId, addrs: Vec<SocketAddr>);

    /// A meeting ended, whoever began it, well or not. Called after [`met`](Self::met). `had` is what
    /// [`have`](Self::have) told at its beginning; empty where it did not get that far.
    fn ended(
        &self,
        peer: DeviceId,
        had: &[(Vec<u8>, u64)],
        outcome: Result<&Report, &ExchangeError>,
    ) {
        let _ = (peer, had, outcome);
    }
}

/// What became of changes handed to [`Host::accept`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Taken {
    /// Written now.
    pub new: u64,
    /// Here already.
    pub known: u64,
    /// Not taken: forged, foreign, or beyond a removal.
    pub refused: u64,
    /// Whether another meeting is needed because of these changes: the peer may now see, or
    /// may now have to show, what this meeting's list of documents does not hold.
    pub again: bool,
}

/// How far a meeting is, as this device sees it. Expected numbers are those known until
/// now and may grow.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// Bytes sent, before encryption.
    pub sent: u64,
    /// Bytes received, before encryption.
    pub received: u64,
    /// Bytes received and still to be received, as far as the peer has told the lengths of
    /// blobs; `None` before the first.
    pub to_receive: Option<u64>,
    /// Changes that came.
    pub changes: u64,
    /// Changes that the peer has and this device lacks, with those that came.
    pub changes_expected: u64,
    /// Blobs that are done with: kept, refused or missing.
    pub blobs: u64,
    /// Blobs wanted in this meeting; `None` before the changes are all here.
    pub blobs_expected: Option<u64>,
}

/// The host could not read or write; the meeting ends and may be repeated.
#[derive(Debug)]
pub struct HostError(Box<dyn Error + Send + Sync>);

impl HostError {
    /// Wraps the host's own error, or a plain text.
    pub fn new(source: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        Self(source.into())
    }
}

impl fmt::Display for HostError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl Error for HostError {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        Some(&*self.0)
    }
}
