//! A rough way between two devices: datagrams are lost, late, and come from elsewhere all at
//! once. It reaches from IPv4 to IPv6, so that a device with only the one and a device with
//! only the other have no way around it.

use std::net::SocketAddr;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::net::UdpSocket;
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tokio::task::JoinHandle;
use tokio::time::Instant;

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

/// One direction: datagrams go in, and on their way later, in the same order.
struct Way {
    passed: Arc<AtomicUsize>,
    rough: Rough,
    dice: blake3::OutputReader,
    late: UnboundedSender<Late>,
}

/// A datagram, when it is sent on, from where, and to whom unless the socket knows.
struct Late(Instant, Arc<UdpSocket>, Option<SocketAddr>, Vec<u8>);

impl Way {
    fn new(name: &str, rough: Rough, passed: &Arc<AtomicUsize>) -> Self {
        let (late, mut queue) = unbounded_channel::<Late>();
        tokio::spawn(async move {
            while let Some(Late(at, from, to, bytes)) = queue.recv().await {
                tokio::time::sleep_until(at).await;
                // A datagram that is not sent is a lost one.
                let _ = match to {
                    Some(to) => from.send_to(&bytes, to).await,
                    None => from.send(&bytes).await,
                };
            }
        });
        let mut dice = blake3::Hasher::new();
        dice.update(name.as_bytes())
            .update(&rough.seed.to_be_bytes());
        Self {
            passed: Arc::clone(passed),
            rough,
            dice: dice.finalize_xof(),
            late,
        }
    }

    fn pass(&mut self, from: &Arc<UdpSocket>, to: Option<SocketAddr>, bytes: &[u8]) {
        let mut drawn = [0; 8];
        self.dice.fill(&mut drawn);
        if u64::from_be_bytes(drawn) % 1000 >= self.rough.lost {
            self.passed.fetch_add(bytes.len(), Ordering::Relaxed);
            let at = Instant::now() + self.rough.delay;
            let late = Late(at, Arc::clone(from), to, bytes.to_vec());
            // It ends with the forwarder.
            let _ = self.late.send(late);
        }
    }
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
    let (mut there, mut here) = (
        Way::new("there", rough, &passed),
        Way::new("back", rough, &passed),
    );
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
                there.pass(&back, None, &from_caller[..length]);
            }
            Ok(length) = back.recv(&mut from_called) => {
                if let Some(caller) = caller {
                    here.pass(&front, Some(caller), &from_called[..length]);
                }
            }
        }
    }
}
