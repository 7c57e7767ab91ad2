//! A host in memory, and nodes on it.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use sync::memory::{self, Faults, Way};
use sync::{
    BlobId, DeviceId, ExchangeError, Host, HostError, Limits, Network, Node, Progress, Report,
    Taken, Wanted,
};
use tokio::sync::Notify;
use tokio::time::Instant;

/// A change of the tests: document (8 bytes), number (8, big-endian), payload. A payload
/// of `blob` and 32 bytes names a blob.
pub fn change(document: &[u8; 8], number: u64, payload: &[u8]) -> Vec<u8> {
    [&document[..], &number.to_be_bytes(), payload].concat()
}

pub fn blob_id(bytes: &[u8]) -> BlobId {
    BlobId(*blake3::hash(bytes).as_bytes())
}

/// Bytes that do not repeat.
pub fn noise(length: usize, seed: u8) -> Vec<u8> {
    let mut bytes = vec![0; length];
    let mut hasher = blake3::Hasher::new();
    hasher.update(&[seed]).finalize_xof().fill(&mut bytes);
    bytes
}

#[derive(Default)]
pub struct Contents {
    pub known: BTreeSet<DeviceId>,
    pub documents: BTreeMap<[u8; 8], Vec<Vec<u8>>>,
    pub blobs: BTreeMap<BlobId, Vec<u8>>,
    /// Blobs that are not whole yet.
    pub parts: BTreeMap<BlobId, Vec<u8>>,
    /// What was handed over of them, each time: from where, and how much.
    pub handed: Vec<(u64, usize)>,
    /// Documents and blobs that no peer may see.
    pub hidden: BTreeSet<[u8; 8]>,
    pub hidden_blobs: BTreeSet<BlobId>,
    /// Blobs that are shown within one scope only.
    pub only_within: BTreeMap<BlobId, [u8; 16]>,
    /// Documents whose changes are refused.
    pub refused: BTreeSet<[u8; 8]>,
    /// Calls of `accept` that succeed before one fails.
    pub accepts_left: Option<usize>,
    /// Most changes handed over at a time.
    pub part: Option<usize>,
    /// A device that is known no more once a change in a document of that name came.
    pub removes: Option<([u8; 8], DeviceId)>,
    /// A document that is hidden until a change in one of that name came.
    pub shows: Option<([u8; 8], [u8; 8])>,
    /// Names its documents in the opposite order.
    pub backwards: bool,
    pub calls: Vec<&'static str>,
    /// When each change, or blob, came; by tokio's clock.
    pub came: Vec<(Instant, Vec<u8>)>,
    pub progress: Vec<Progress>,
    pub met: Vec<(DeviceId, Vec<SocketAddr>)>,
    pub ended: Vec<Result<Report, String>>,
    /// What each meeting that ended had begun with.
    pub had: Vec<Vec<(Vec<u8>, u64)>>,
}

#[derive(Default)]
pub struct Shelf {
    contents: Mutex<Contents>,
    /// While it is set, blobs that came are not kept yet.
    pub holds_up: AtomicBool,
    pub blob_asked: Notify,
    pub meeting_ended: Notify,
}

impl Shelf {
    pub fn look<T>(&self, at: impl FnOnce(&mut Contents) -> T) -> T {
        at(&mut self.contents.lock().unwrap())
    }

    /// Adds a change to the end of a document.
    pub fn write(&self, document: &[u8; 8], payload: &[u8]) {
        self.look(|contents| {
            let changes = contents.documents.entry(*document).or_default();
            let number = changes.len() as u64;
            changes.push(change(document, number, payload));
        });
    }

    /// Adds a blob and a change that names it.
    pub fn write_blob(&self, document: &[u8; 8], bytes: Vec<u8>) -> BlobId {
        let id = blob_id(&bytes);
        self.look(|contents| contents.blobs.insert(id, bytes));
        self.write(document, &[b"blob", &id.0[..]].concat());
        id
    }

    pub fn know(&self, peer: DeviceId) {
        self.look(|contents| contents.known.insert(peer));
    }

    /// Waits for the end of `count` meetings.
    pub async fn ended(&self, count: usize) -> Result<Report, String> {
        let wait = async {
            loop {
                let ended = self.meeting_ended.notified();
                if let Some(outcome) = self.look(|c| c.ended.get(count - 1).cloned()) {
                    return outcome;
                }
                ended.await;
            }
        };
        let late = Duration::from_secs(20);
        tokio::time::timeout(late, wait)
            .await
            .expect("no meeting ended")
    }
}

pub fn document_of(change: &[u8]) -> [u8; 8] {
    change[..8].try_into().unwrap()
}

/// Within which the blobs are that a document names.
pub fn scope_of(document: &[u8; 8]) -> [u8; 16] {
    [*document, *document].concat().try_into().unwrap()
}

fn number_of(change: &[u8]) -> usize {
    u64::from_be_bytes(change[8..16].try_into().unwrap()) as usize
}

fn blob_of(change: &[u8]) -> Option<BlobId> {
    let id = change[16..].strip_prefix(b"blob")?;
    Some(BlobId(id.try_into().ok()?))
}

impl Host for Shelf {
    fn knows(&self, peer: DeviceId) -> bool {
        self.look(|contents| contents.known.contains(&peer))
    }

    fn have(&self, _: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        Ok(self.look(|contents| {
            contents.calls.push("have");
            let seen = contents.documents.iter();
            let seen = seen.filter(|(id, _)| !contents.hidden.contains(*id));
            let seen = seen.map(|(id, changes)| (id.to_vec(), changes.len() as u64));
            let mut seen: Vec<_> = seen.collect();
            if contents.backwards {
                seen.reverse();
            }
            seen
        }))
    }

    fn changes(&self, _: DeviceId, doc: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        Ok(self.look(|contents| {
            let id: [u8; 8] = doc.try_into().unwrap();
            assert!(
                !contents.hidden.contains(&id),
                "asked for a hidden document"
            );
            let changes = contents.documents[&id].iter().skip(from as usize);
            let part = contents.part.unwrap_or(usize::MAX);
            changes.take(part).cloned().collect()
        }))
    }

    fn accept(&self, _: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        self.look(|contents| {
            contents.calls.push("accept");
            if let Some(left) = &mut contents.accepts_left {
                if *left == 0 {
                    return Err(HostError::new("the disk is full"));
                }
                *left -= 1;
            }
            let mut taken = Taken::default();
            for change in changes {
                let id = document_of(&change);
                contents.came.push((Instant::now(), change.clone()));
                if contents.refused.contains(&id) {
                    taken.refused += 1;
                    continue;
                }
                let here = contents.documents.entry(id).or_default();
                match here.get(number_of(&change)) {
                    Some(known) if *known == change => taken.known += 1,
                    None if here.len() == number_of(&change) => {
                        here.push(change);
                        taken.new += 1;
                    }
                    _ => taken.refused += 1,
                }
                if let Some((_, device)) = contents.removes.filter(|(by, _)| *by == id) {
                    contents.known.remove(&device);
                }
                if let Some((_, shown)) = contents.shows.filter(|(by, _)| *by == id) {
                    taken.again |= contents.hidden.remove(&shown);
                }
            }
            Ok(taken)
        })
    }

    fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> {
        Ok(self.look(|contents| {
            let changes = contents.documents.values().flatten();
            let named = changes.filter_map(|change| {
                let scope = scope_of(&document_of(change));
                blob_of(change).map(|id| Wanted { scope, id })
            });
            named
                .filter(|wanted| !contents.blobs.contains_key(&wanted.id))
                .collect()
        }))
    }

    fn blob(&self, _: DeviceId, wanted: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        let Wanted { scope, id } = wanted;
        self.blob_asked.notify_one();
        Ok(self.look(|contents| {
            contents.calls.push("blob");
            let within = contents.only_within.get(&id);
            let seen = !contents.hidden_blobs.contains(&id)
                && within.is_none_or(|within| *within == scope);
            contents.blobs.get(&id).filter(|_| seen).cloned()
        }))
    }

    fn keep_blob(
        &self,
        _: DeviceId,
        Wanted { id, .. }: Wanted,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        // Not for ever: a test that fails must end.
        let begun = std::time::Instant::now();
        while self.holds_up.load(Ordering::Relaxed) && begun.elapsed() < Duration::from_secs(20) {
            std::thread::sleep(Duration::from_millis(1));
        }
        self.look(|contents| {
            assert_eq!(blob_id(&bytes), id, "a blob under another's name");
            contents.parts.remove(&id);
            contents.came.push((Instant::now(), id.0.to_vec()));
            contents.blobs.insert(id, bytes);
        });
        Ok(())
    }

    fn part(&self, _: DeviceId, blob: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        Ok(self.look(|contents| contents.parts.get(&blob.id).cloned()))
    }

    fn keep_part(
        &self,
        _: DeviceId,
        Wanted { id, .. }: Wanted,
        from: u64,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        self.look(|contents| {
            contents.handed.push((from, bytes.len()));
            let part = contents.parts.entry(id).or_default();
            assert!(from as usize <= part.len(), "a gap in a part");
            part.truncate(from as usize);
            part.extend(bytes);
        });
        Ok(())
    }

    fn progress(&self, _: DeviceId, progress: Progress) {
        self.look(|contents| contents.progress.push(progress));
    }

    fn met(&self, peer: DeviceId, addrs: Vec<SocketAddr>) {
        self.look(|contents| contents.met.push((peer, addrs)));
    }

    fn ended(&self, _: DeviceId, had: &[(Vec<u8>, u64)], outcome: Result<&Report, &ExchangeError>) {
        let outcome = outcome.copied().map_err(ToString::to_string);
        self.look(|contents| {
            contents.ended.push(outcome);
            contents.had.push(had.to_vec());
        });
        self.meeting_ended.notify_waiters();
    }
}

/// Limits that end a test soon when something hangs.
pub fn brisk() -> Limits {
    Limits {
        quiet: Duration::from_secs(8),
        connect: Duration::from_secs(8),
        ..Limits::default()
    }
}

pub const LOOPBACK: Network = Network::Loopback { port: 0 };

pub async fn start(seed: u8, limits: Limits) -> (Node, Arc<Shelf>) {
    let shelf = Arc::new(Shelf::default());
    (start_on(seed, limits, &shelf).await, shelf)
}

pub async fn start_on(seed: u8, limits: Limits, shelf: &Arc<Shelf>) -> Node {
    let host = Arc::clone(shelf) as Arc<dyn Host>;
    Node::start_within([seed; 32], LOOPBACK, host, limits)
        .await
        .unwrap()
}

/// Two nodes that know each other.
pub async fn pair(limits: Limits) -> ((Node, Arc<Shelf>), (Node, Arc<Shelf>)) {
    let (a, b) = (start(1, limits.clone()).await, start(2, limits).await);
    a.1.know(b.0.id());
    b.1.know(a.0.id());
    (a, b)
}

/// Whether both have the same documents and all blobs that these name.
pub fn level(a: &Shelf, b: &Shelf) -> bool {
    let documents = |shelf: &Shelf| shelf.look(|c| c.documents.clone());
    let lacking = |shelf: &Shelf| shelf.wants(DeviceId([0; 32])).unwrap();
    documents(a) == documents(b) && lacking(a).is_empty() && lacking(b).is_empty()
}

/// The devices that meet in memory.
pub const A: DeviceId = DeviceId([1; 32]);
pub const B: DeviceId = DeviceId([2; 32]);

/// Two hosts that know each other.
pub fn hosts() -> (Arc<Shelf>, Arc<Shelf>) {
    let (a, b) = (Arc::new(Shelf::default()), Arc::new(Shelf::default()));
    a.know(B);
    b.know(A);
    (a, b)
}

/// `a` calls `b`, in memory.
pub async fn meet(
    a: &Arc<Shelf>,
    b: &Arc<Shelf>,
    faults: &Faults,
) -> (Result<Report, ExchangeError>, Result<Report, ExchangeError>) {
    meet_within(a, b, &Limits::default(), faults).await
}

pub async fn meet_within(
    a: &Arc<Shelf>,
    b: &Arc<Shelf>,
    limits: &Limits,
    faults: &Faults,
) -> (Result<Report, ExchangeError>, Result<Report, ExchangeError>) {
    let (a, b) = (Arc::clone(a), Arc::clone(b));
    memory::meet((A, a), (B, b), limits, faults).await
}

/// The same delay there and back.
pub fn delay(millis: u64) -> Faults {
    let way = Way {
        delay: Duration::from_millis(millis),
        ..Way::default()
    };
    Faults {
        there: way,
        back: way,
    }
}
