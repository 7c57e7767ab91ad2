//! The honest device's own side: little, and strict about what it is handed.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::{LazyLock, Mutex};

use units::{BlobId, DeviceId};

use crate::{ExchangeError, Host, HostError, Limits, Report, Taken, Wanted, lock};

/// The one document.
const BOOK: &[u8] = b"a book";

/// A host with one document, one blob to serve, and two that it wants.
#[derive(Debug, Default)]
pub(super) struct Bare(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    changes: usize,
    blobs: usize,
    parts: BTreeMap<BlobId, usize>,
}

/// What the peer of the script has, and the host wants: one blob of several groups, and one
/// of less than one.
pub(super) static WANTED: LazyLock<[Vec<u8>; 2]> = LazyLock::new(|| {
    let bytes = |length: usize| (0..length).map(|at| (at * 7 % 251) as u8).collect();
    [bytes(200_000), bytes(900)]
});

/// Within which all of it is.
pub(super) const SCOPE: [u8; 16] = *b"all of the story";

pub(super) fn name(blob: &[u8]) -> BlobId {
    BlobId(*blake3::hash(blob).as_bytes())
}

/// What the host has.
pub(super) fn served() -> Vec<u8> {
    vec![5; 70_000]
}

impl Bare {
    /// Whether all that was handed over was within the bounds.
    pub(super) fn check(&self, outcome: &Result<Report, ExchangeError>) {
        let kept = lock(&self.0);
        if let Ok(report) = outcome {
            assert_eq!(report.received_blobs as usize, kept.blobs);
            assert_eq!(report.arrived_changes as usize, kept.changes);
        }
        assert!(kept.changes <= 100 && kept.blobs <= 2);
    }
}

impl Host for Bare {
    fn knows(&self, _: DeviceId) -> bool {
        true
    }

    fn have(&self, _: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        Ok(vec![(BOOK.to_vec(), 3)])
    }

    fn changes(&self, _: DeviceId, book: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        assert_eq!(book, BOOK);
        Ok((from..3).map(|number| vec![number as u8; 100]).collect())
    }

    fn accept(&self, _: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        assert!(!changes.is_empty());
        let bytes: usize = changes.iter().map(Vec::len).sum();
        assert!(bytes <= 1 << 20);
        lock(&self.0).changes += changes.len();
        Ok(Taken {
            new: changes.len() as u64,
            ..Taken::default()
        })
    }

    fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> {
        let wanted = |blob: &Vec<u8>| Wanted {
            scope: SCOPE,
            id: name(blob),
        };
        Ok(WANTED.iter().map(wanted).collect())
    }

    fn blob(&self, _: DeviceId, wanted: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        let blob = served();
        let served = wanted.scope == SCOPE && wanted.id == name(&blob);
        Ok(served.then_some(blob))
    }

    fn keep_blob(&self, _: DeviceId, blob: Wanted, bytes: Vec<u8>) -> Result<(), HostError> {
        assert_eq!(name(&bytes), blob.id, "kept under another's name");
        assert!(WANTED.contains(&bytes), "kept unasked");
        lock(&self.0).blobs += 1;
        Ok(())
    }

    fn keep_part(
        &self,
        _: DeviceId,
        Wanted { id, .. }: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        assert!(from + bytes.len() as u64 <= Limits::BLOB_BYTES);
        let whole = WANTED.iter().find(|blob| name(blob) == id);
        let whole = whole.expect("a part of what was wanted");
        let from = usize::try_from(from).expect("within a blob");
        assert_eq!(
            whole.get(from..from + bytes.len()),
            Some(&bytes[..]),
            "kept unchecked"
        );
        let had = lock(&self.0).parts.insert(id, from + bytes.len());
        assert!(from <= had.unwrap_or(0), "a gap in a part");
        Ok(())
    }

    fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
}
