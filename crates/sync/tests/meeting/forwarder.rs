//! A rough way between two devices: datagrams are lost, late, and come from elsewhere all at
//! once. It reaches from IPv4 to IPv6, so that a device with only the one and a device with
//! only the other have no way around it.

use std::net::SocketAddr;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::net::UdpSocket;
use tokio::task::JoinHandle;

#[derive(Debug, Clone, Copy, Default)]
pub struct Rough {
    /// Of a thousand datagrams in each direction.
    pub lost: u64,
    /// In each direction.
    pub delay: Duration,
    /// After how many datagrams of the caller it sends them on from another port.
    pub moves_after: Option<usize>,
    pub seed: u64,
}

pub struct Forwarder {
    pub address: SocketAddr,
    pub bytes: Arc<AtomicUsize>,
    /// The ports from which it sent on.
    pub ports: Arc<Mutex<Vec<u16>>>,
    task: JoinHandle<()>,
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.task.abort();
    }
}

impl Forwarder {
    /// Reaches, at an address of its own, a device that listens at `to`.
    pub async fn start(to: SocketAddr, rough: Rough) -> Self {
        let front = Arc::new(UdpSocket::bind("127.0.0.1:0").await.unwrap());
        let address = front.local_addr().unwrap();
        let (bytes, ports) = (Arc::<AtomicUsize>::default(), Arc::default());
        let task = tokio::spawn(forward(
            front,
            to,
            rough,
            Arc::clone(&bytes),
            Arc::clone(&ports),
        ));
        Self {
            address,
            bytes,
            ports,
            task,
        }
    }
}

async fn back_to(to: SocketAddr, ports: &Mutex<Vec<u16>>) -> Arc<UdpSocket> {
    let back = UdpSocket::bind("[::1]:0").await.unwrap();
    back.connect(to).await.unwrap();
    ports
        .lock()
        .unwrap()
        .push(back.local_addr().unwrap().port());
    Arc::new(back)
}

async fn forward(
    front: Arc<UdpSocket>,
    to: SocketAddr,
    rough: Rough,
    passed: Arc<AtomicUsize>,
    ports: Arc<Mutex<Vec<u16>>>,
) {
    let mut back = back_to(to, &ports).await;
    let mut caller = None;
    let mut dice = blake3::Hasher::new();
    dice.update(&rough.seed.to_be_bytes());
    let mut dice = dice.finalize_xof();
    let mut lost = || {
        let mut bytes = [0; 8];
        dice.fill(&mut bytes);
        u64::from_be_bytes(bytes) % 1000 < rough.lost
    };
    let (mut from_caller, mut from_called) = (vec![0; 65_536], vec![0; 65_536]);
    let mut forth = 0;
    loop {
        tokio::select! {
            Ok((length, from)) = front.recv_from(&mut from_caller) => {
                caller = Some(from);
                forth += 1;
                if rough.moves_after == Some(forth) {
                    back = back_to(to, &ports).await;
                }
                if !lost() {
                    let (back, bytes) = (Arc::clone(&back), from_caller[..length].to_vec());
                    passed.fetch_add(length, Ordering::Relaxed);
                    later(rough.delay, async move { back.send(&bytes).await.map(drop) });
                }
            }
            Ok(length) = back.recv(&mut from_called) => {
                if let Some(caller) = caller.filter(|_| !lost()) {
                    let (front, bytes) = (Arc::clone(&front), from_called[..length].to_vec());
                    passed.fetch_add(length, Ordering::Relaxed);
                    later(rough.delay, async move { front.send_to(&bytes, caller).await.map(drop) });
                }
            }
        }
    }
}

fn later(delay: Duration, send: impl Future<Output = std::io::Result<()>> + Send + 'static) {
    tokio::spawn(async move {
        tokio::time::sleep(delay).await;
        // A datagram that is not sent is a lost one.
        let _ = send.await;
    });
}
