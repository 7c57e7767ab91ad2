//! How fast photographs move between two devices on this machine, beside the same bytes
//! copied through a bare QUIC stream in the same run; and what a meeting costs in bytes.
//!
//! `cargo bench -p sync`. The variants take turns, and the best round of each counts: what
//! else runs on the machine makes rounds only slower. Processor time, of both devices
//! together, says more on a busy machine.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Write;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use cpu_time::ProcessTime;
use sync::{BlobId, DeviceId, Host, HostError, Network, Node, Taken, Wanted};

#[allow(dead_code, reason = "tests also look from where it sent on")]
#[path = "../tests/meeting/forwarder.rs"]
mod forwarder;

#[path = "peer/bare.rs"]
mod bare;

const PHOTOS: u64 = 64;
const PHOTO_BYTES: usize = 1_200_000;
const ROUNDS: usize = 7;
/// Least rate of a meeting, to that of a bare stream, where both keep each photograph on the disk.
const LEAST: f64 = 0.6;

type Photos = BTreeMap<BlobId, Arc<Vec<u8>>>;

fn photos() -> Photos {
    let photo = |seed: u64| {
        let mut bytes = vec![0; PHOTO_BYTES];
        let mut noise = blake3::Hasher::new();
        noise
            .update(&seed.to_be_bytes())
            .finalize_xof()
            .fill(&mut bytes);
        (BlobId(*blake3::hash(&bytes).as_bytes()), Arc::new(bytes))
    };
    (0..PHOTOS).map(photo).collect()
}

/// Writes a file and waits until it is on the disk.
fn write(folder: &Path, name: &str, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = File::create(folder.join(name))?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A host with photographs, or one that wants them and keeps them in memory or on disk.
#[derive(Default)]
struct Album {
    has: Mutex<Photos>,
    wants: Vec<BlobId>,
    folder: Option<PathBuf>,
    changes: Mutex<Vec<Vec<u8>>>,
}

impl Host for Album {
    fn knows(&self, _: DeviceId) -> bool {
        true
    }

    fn have(&self, _: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        let count = self.changes.lock().unwrap().len() as u64;
        Ok(vec![(
            b"a book, with a name of a usual length of 53 bytes: 53".to_vec(),
            count,
        )])
    }

    fn changes(&self, _: DeviceId, _: &[u8], from: u64) -> Result<Vec<Vec<u8>>, HostError> {
        Ok(self.changes.lock().unwrap()[from as usize..].to_vec())
    }

    fn accept(&self, _: DeviceId, changes: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        let new = changes.len() as u64;
        self.changes.lock().unwrap().extend(changes);
        Ok(Taken {
            new,
            ..Taken::default()
        })
    }

    fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> {
        let has = self.has.lock().unwrap();
        let lacking = self.wants.iter().filter(|id| !has.contains_key(id));
        let scope = [0; 16];
        Ok(lacking.map(|&id| Wanted { scope, id }).collect())
    }

    fn blob(&self, _: DeviceId, Wanted { id, .. }: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        Ok(self
            .has
            .lock()
            .unwrap()
            .get(&id)
            .map(|bytes| bytes.to_vec()))
    }

    fn keep_blob(
        &self,
        _: DeviceId,
        Wanted { id, .. }: Wanted,
        bytes: Vec<u8>,
    ) -> Result<(), HostError> {
        if let Some(folder) = &self.folder {
            let name = id.0[..8]
                .iter()
                .map(|byte| format!("{byte:02x}"))
                .collect::<String>();
            write(folder, &name, &bytes).map_err(HostError::new)?;
        }
        self.has.lock().unwrap().insert(id, Arc::new(bytes));
        Ok(())
    }

    fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
}

async fn node(seed: u8, network: Network, host: &Arc<Album>) -> Node {
    let host = Arc::clone(host) as Arc<dyn Host>;
    Node::start([seed; 32], network, host)
        .await
        .expect("a free port")
}

/// One device fetches all photographs of another.
async fn exchange(photos: &Photos, folder: Option<&Path>) -> Duration {
    const LOOPBACK: Network = Network::Loopback { port: 0 };
    let giving = Arc::new(Album {
        has: Mutex::new(photos.clone()),
        ..Album::default()
    });
    let taking = Arc::new(Album {
        wants: photos.keys().copied().collect(),
        folder: folder.map(Path::to_owned),
        ..Album::default()
    });
    let (a, b) = (
        node(1, LOOPBACK, &giving).await,
        node(2, LOOPBACK, &taking).await,
    );
    let begun = Instant::now();
    let report = b.exchange(a.id(), &a.addresses()).await.expect("a meeting");
    let took = begun.elapsed();
    assert_eq!(report.received_blobs, PHOTOS);
    a.close().await;
    b.close().await;
    took
}

/// What passes over the wire for one meeting, with the handshake and all that QUIC adds.
async fn on_the_wire(a: &Arc<Album>, b: &Arc<Album>) -> (u64, u64) {
    let at = |address: &str| Network::At {
        address: address.parse().expect("an address"),
        relay: None,
    };
    let (one, other) = (
        node(1, at("127.0.0.1:0"), a).await,
        node(2, at("[::1]:0"), b).await,
    );
    let rough = forwarder::Rough::default();
    let forwarder = forwarder::Forwarder::start(other.addresses()[0], rough).await;
    let report = one
        .exchange(other.id(), &[forwarder.address])
        .await
        .expect("a meeting");
    one.close().await;
    other.close().await;
    (report.bytes, forwarder.bytes.load(Ordering::Relaxed) as u64)
}

#[tokio::main]
async fn main() {
    let folder = std::env::temp_dir().join(format!("pothook-bench-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("a folder");
    let photos = photos();
    let plain: Vec<Arc<Vec<u8>>> = photos.values().cloned().collect();
    let mut best = [(Duration::MAX, Duration::MAX); 4];
    for _ in 0..ROUNDS {
        for (variant, best) in best.iter_mut().enumerate() {
            let begun = ProcessTime::now();
            let took = match variant {
                0 => exchange(&photos, None).await,
                1 => exchange(&photos, Some(&folder)).await,
                2 => bare::copy(&plain, &folder, false).await,
                _ => bare::copy(&plain, &folder, true).await,
            };
            *best = (best.0.min(took), best.1.min(begun.elapsed()));
        }
    }
    fs::remove_dir_all(&folder).expect("removed");
    let names = [
        "meeting, kept in memory",
        "meeting, each on disk, flushed",
        "bare stream, each on disk",
        "bare stream, each on disk, flushed",
    ];
    println!("{PHOTOS} photographs of {PHOTO_BYTES} bytes, best of {ROUNDS} rounds:");
    println!("{:38}{:>8}{:>22}", "", "MB/s", "processor, ms for MB");
    let megabytes = (PHOTOS * PHOTO_BYTES as u64) as f64 / 1e6;
    for (name, (took, worked)) in names.iter().zip(best) {
        let rate = megabytes / took.as_secs_f64();
        let work = worked.as_secs_f64() * 1000.0 / megabytes;
        println!("  {name:36}{rate:8.1}{work:22.2}");
    }
    println!("Rate and processor time of a meeting, to those of a bare stream:");
    for (name, one, other) in [
        ("in memory, to each on disk", 0, 2),
        ("flushed, to each on disk", 1, 2),
        ("flushed, to flushed", 1, 3),
    ] {
        let (one, other): ((Duration, Duration), (Duration, Duration)) = (best[one], best[other]);
        let rate = other.0.as_secs_f64() / one.0.as_secs_f64();
        let work = one.1.as_secs_f64() / other.1.as_secs_f64();
        println!("  {name:36}{rate:8.2}{work:22.2}");
    }

    let (a, b) = (Arc::<Album>::default(), Arc::<Album>::default());
    let old = vec![vec![1; 150]; 200];
    a.changes.lock().unwrap().clone_from(&old);
    b.changes.lock().unwrap().clone_from(&old);
    println!("Bytes for one meeting, in streams and in datagrams with the handshake:");
    let (bytes, datagrams) = on_the_wire(&a, &b).await;
    println!("  nothing new                                    {bytes:8} {datagrams:8}");
    let (id, photo) = photos.iter().next().expect("a photograph");
    a.has.lock().unwrap().insert(*id, Arc::clone(photo));
    a.changes.lock().unwrap().extend(vec![vec![2; 150]; 14]);
    let b = Arc::new(Album {
        wants: vec![*id],
        changes: Mutex::new(old),
        ..Album::default()
    });
    let (bytes, datagrams) = on_the_wire(&a, &b).await;
    println!("  14 changes of 150 bytes and one photograph     {bytes:8} {datagrams:8}");
    let rate = best[3].0.as_secs_f64() / best[1].0.as_secs_f64();
    if rate < LEAST {
        eprintln!(
            "Broken: a meeting that keeps on disk has {rate:.2} of the rate of a bare stream that does"
        );
        std::process::exit(1);
    }
}
