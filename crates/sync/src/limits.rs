//! How much of anything one meeting may hold.

use std::time::Duration;

/// Bounds of meetings and pairings. What this device sends is cut to them (the rest
/// waits for the next meeting); a peer that sends beyond them is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Changes taken from the peer.
    pub changes: u64,
    /// Bytes of changes taken from the peer.
    pub change_bytes: u64,
    /// Blobs asked of the peer, and questions for blobs answered to it.
    pub blobs: u64,
    /// Bytes of blobs taken from the peer, and bytes of blobs served to it.
    pub blob_bytes: u64,
    /// Longest wait for the peer while nothing moves.
    pub quiet: Duration,
    /// Longest time for one meeting.
    pub meeting: Duration,
    /// Longest time for a connection to come about.
    pub connect: Duration,
    /// Meetings begun by others that may run at once, and as many pairings beside them.
    pub guests: usize,
    /// Meetings that one peer may have begun and not ended.
    pub guests_per_peer: usize,
    /// How long an offer stays open, and how long both people have to confirm.
    pub offer: Duration,
    /// Wrong secrets after which an offer closes.
    pub wrong_tries: u32,
}

impl Limits {
    /// Most documents that a side may name in one meeting.
    pub const DOCUMENTS: usize = 4096;
    /// Longest id of a document, in bytes.
    pub const DOCUMENT_ID_BYTES: usize = 64;
    /// Largest single change, in bytes.
    pub const CHANGE_BYTES: usize = 4 << 20;
    /// Largest single blob, in bytes.
    pub const BLOB_BYTES: u64 = 32 << 20;
    /// A peer is told that a blob is missing no sooner than this.
    pub const MISSING: Duration = Duration::from_millis(5);
    /// Largest payload handed over by a pairing, in bytes.
    pub const ABOUT_BYTES: usize = 16 << 10;
    /// Most addresses in a pairing code.
    pub const CODE_ADDRESSES: usize = 8;
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            changes: 200_000,
            change_bytes: 256 << 20,
            blobs: 4096,
            blob_bytes: 2 << 30,
            quiet: Duration::from_secs(45),
            meeting: Duration::from_secs(30 * 60),
            connect: Duration::from_secs(10),
            guests: 16,
            guests_per_peer: 2,
            offer: Duration::from_secs(10 * 60),
            wrong_tries: 5,
        }
    }
}
