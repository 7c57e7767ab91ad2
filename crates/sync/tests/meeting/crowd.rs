//! Strangers that begin to call and never go on, while devices that know each other meet.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use iroh::{EndpointAddr, EndpointId};
use sync::{Limits, Node};
use tokio::net::UdpSocket;
use tokio::task::JoinSet;

use crate::raw::{self, EXCHANGE, PAIR, close_code, frame, varint};
use crate::shelf::{Shelf, brisk, level, start};

/// Calls that are answered before addresses are asked for a proof.
const UNPROVEN: usize = 32;
/// Calls that are answered at once.
const MOST: usize = 128;

/// Calls of a stranger's that reach a device and hear nothing from it, but that they are to prove their
/// address, where they are to hear that.
struct Crowd {
    /// Ends with this.
    _calls: JoinSet<()>,
    seen: Arc<Seen>,
}

#[derive(Default)]
struct Seen {
    /// The names by which the calls address the device: each has its own, and another one once it proves its
    /// address.
    names: Mutex<BTreeSet<Vec<u8>>>,
    asked: AtomicUsize,
}

impl Crowd {
    async fn begin(node: &Node, calls: usize, proves: bool) -> Self {
        let front = UdpSocket::bind("127.0.0.1:0").await.unwrap();
        let back = UdpSocket::bind("127.0.0.1:0").await.unwrap();
        back.connect(node.addresses()[0]).await.unwrap();
        let to = EndpointAddr::new(EndpointId::from_bytes(&node.id().0).unwrap())
            .with_ip_addr(front.local_addr().unwrap());
        let (stranger, ..) = raw::endpoint(9, EXCHANGE).await;
        let seen = Arc::<Seen>::default();
        let mut all = JoinSet::new();
        all.spawn(pass(front, back, proves, Arc::clone(&seen)));
        for _ in 0..calls {
            let (stranger, to) = (stranger.clone(), to.clone());
            all.spawn(async move {
                // Nobody answers before the test is over.
                let _ = stranger.connect(to, EXCHANGE).await;
            });
        }
        let names = calls + if proves { calls - UNPROVEN } else { 0 };
        let on_their_way = async {
            while seen.names.lock().unwrap().len() < names {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
        };
        let on_their_way = tokio::time::timeout(Duration::from_secs(60), on_their_way);
        on_their_way.await.expect("all of them call");
        Self { _calls: all, seen }
    }

    /// How often the device asked for a proof.
    fn asked(&self) -> usize {
        self.seen.asked.load(Ordering::Relaxed)
    }
}

/// RFC 9000, section 17.2: in a long header the name of whoever is addressed stands behind the first byte,
/// four of the version and its length; a Retry begins with the bits 1111.
async fn pass(front: UdpSocket, back: UdpSocket, proves: bool, seen: Arc<Seen>) {
    let (mut there, mut here) = (vec![0; 65_536], vec![0; 65_536]);
    let mut caller = None;
    loop {
        tokio::select! {
            Ok((length, from)) = front.recv_from(&mut there) => {
                caller = Some(from);
                let name = &there[6..][..usize::from(there[5])];
                seen.names.lock().unwrap().insert(name.to_vec());
                let _ = back.send(&there[..length]).await;
            }
            Ok(length) = back.recv(&mut here) => {
                if here[0] >> 4 != 0b1111 {
                    continue;
                }
                seen.asked.fetch_add(1, Ordering::Relaxed);
                if let Some(caller) = caller.filter(|_| proves) {
                    let _ = front.send_to(&here[..length], caller).await;
                }
            }
        }
    }
}

/// So many places, and a device that does not give up on anybody while a test runs.
fn patient(guests: usize) -> Limits {
    Limits {
        connect: Duration::from_secs(120),
        guests,
        ..Limits::default()
    }
}

/// Another device meets the one that is called by a crowd.
async fn meets(node: &Node, shelf: &Shelf) {
    let (family, at_family) = start(2, brisk()).await;
    shelf.know(family.id());
    at_family.know(node.id());
    at_family.write(b"a book  ", b"a page");
    let met = family.exchange(node.id(), &node.addresses()).await;
    met.unwrap();
    assert!(level(shelf, &at_family));
}

/// Another device is paired with it.
async fn pairs(node: &Node) {
    let (parent, _) = start(3, brisk()).await;
    let offer = node.offer(Vec::new()).unwrap();
    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
    assert_eq!(here.unwrap().words, there.unwrap().words);
}

#[tokio::test]
async fn calls_that_nobody_goes_on_with_keep_nobody_out() {
    let (node, shelf) = start(1, patient(16)).await;
    // More than there are places; too few to ask anybody for a proof.
    let few = Crowd::begin(&node, UNPROVEN - 4, false).await;
    meets(&node, &shelf).await;
    pairs(&node).await;
    assert_eq!(few.asked(), 0);
    // From here on the family has to prove its address as well.
    let many = Crowd::begin(&node, 2 * MOST, false).await;
    meets(&node, &shelf).await;
    pairs(&node).await;
    assert!(many.asked() > MOST, "{}", many.asked());
}

#[tokio::test]
async fn calls_from_a_proven_address_that_nobody_goes_on_with_keep_nobody_out() {
    let (node, shelf) = start(1, patient(16)).await;
    let crowd = Crowd::begin(&node, MOST + UNPROVEN, true).await;
    assert!(crowd.asked() >= MOST);
    meets(&node, &shelf).await;
    pairs(&node).await;
}

#[tokio::test]
async fn strangers_that_begin_to_pair_keep_no_family_out() {
    const BUSY: u64 = 7;
    let (node, shelf) = start(1, patient(2)).await;
    let _offer = node.offer(Vec::new()).unwrap();
    let (stranger, ..) = raw::endpoint(9, PAIR).await;
    let knock = frame(7, &[varint(1), vec![5; 32]].concat());
    let mut knocked = Vec::new();
    for _ in 0..2 {
        let connection = raw::call(&stranger, &node, PAIR).await;
        let (mut send, mut recv) = connection.open_bi().await.unwrap();
        send.write_all(&knock).await.unwrap();
        assert_eq!(raw::read(&mut recv).await.0, 8, "a challenge");
        knocked.push((connection, send, recv));
    }
    let third = raw::call(&stranger, &node, PAIR).await;
    assert_eq!(close_code(&third).await, BUSY);
    meets(&node, &shelf).await;
}
