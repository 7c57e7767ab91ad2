//! Devices that meet over a rough way.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use sync::{ExchangeError, Host, Limits, Network, Node};

use crate::forwarder::{Forwarder, Rough};
use crate::shelf::{Shelf, level, noise};

pub const PATIENT: Duration = Duration::from_secs(20);

/// A device with only IPv4 and one with only IPv6, that know each other. They wait so long
/// for a connection.
pub async fn apart(
    relay: Option<&str>,
    connect: Duration,
) -> ((Node, Arc<Shelf>), (Node, Arc<Shelf>)) {
    let limits = Limits {
        connect,
        ..Limits::default()
    };
    let start = async |seed: u8, address: &str| {
        let shelf = Arc::new(Shelf::default());
        let network = Network::At {
            address: address.parse().unwrap(),
            relay: relay.map(|relay| relay.parse().unwrap()),
        };
        let host = Arc::clone(&shelf) as Arc<dyn Host>;
        let node = Node::start_within([seed; 32], network, host, limits.clone()).await;
        (node.unwrap(), shelf)
    };
    let (a, b) = (start(1, "127.0.0.1:0").await, start(2, "[::1]:0").await);
    a.1.know(b.0.id());
    b.1.know(a.0.id());
    (a, b)
}

/// Fills both with news.
pub fn fill(a: &Shelf, b: &Shelf) {
    for n in 0..40 {
        a.write(b"a's book", &[n; 300]);
        b.write(b"b's book", &[n; 300]);
    }
    a.write_blob(b"a's book", noise(500_000, 1));
    b.write_blob(b"b's book", noise(300_000, 2));
}

async fn meet_over(rough: Rough) -> Forwarder {
    let ((a, at_a), (b, at_b)) = apart(None, PATIENT).await;
    fill(&at_a, &at_b);
    let forwarder = Forwarder::start(b.addresses()[0], rough).await;
    let report = a.exchange(b.id(), &[forwarder.address]).await.unwrap();
    assert!(level(&at_a, &at_b));
    assert_eq!((report.sent_blobs, report.received_blobs), (1, 1));
    let passed = forwarder.bytes.load(Ordering::Relaxed) as u64;
    assert!(passed > report.bytes, "all of it went this way");
    forwarder
}

#[tokio::test]
async fn no_way_leads_from_one_family_of_addresses_to_the_other() {
    let ((a, _), (b, _)) = apart(None, Duration::from_millis(500)).await;
    let outcome = a.exchange(b.id(), &b.addresses()).await;
    assert!(
        matches!(outcome, Err(ExchangeError::Unreachable { .. })),
        "{outcome:?}"
    );
}

#[tokio::test]
async fn they_end_level_though_one_datagram_in_twenty_is_lost() {
    for seed in 1..4 {
        meet_over(Rough {
            lost: 50,
            seed,
            ..Rough::default()
        })
        .await;
    }
}

#[tokio::test]
async fn they_end_level_though_everything_takes_long() {
    meet_over(Rough {
        delay: Duration::from_millis(300),
        ..Rough::default()
    })
    .await;
}

#[tokio::test]
async fn they_end_level_though_the_caller_s_address_changes_midway() {
    for datagrams in [10, 60, 150] {
        let forwarder = meet_over(Rough {
            moves_after: Some(datagrams),
            ..Rough::default()
        })
        .await;
        let ports = forwarder.ports.lock().unwrap().clone();
        assert_eq!(ports.len(), 2, "it moved");
        assert_ne!(ports[0], ports[1]);
    }
}

#[tokio::test]
async fn a_pairing_survives_a_rough_way() {
    let ((a, _), (b, _)) = apart(None, PATIENT).await;
    let rough = Rough {
        lost: 50,
        delay: Duration::from_millis(20),
        moves_after: Some(12),
        seed: 7,
    };
    let forwarder = Forwarder::start(b.addresses()[0], rough).await;
    let offer = b.offer(b"about b".to_vec()).unwrap();
    // Whoever only passes on what it cannot read changes nothing.
    let code = offer.code().at(&[forwarder.address]);
    let (here, there) = tokio::join!(offer.joined(), a.join(&code, vec![3; 16 << 10]));
    let (here, there) = (here.unwrap(), there.unwrap());
    assert_eq!(here.words, there.words);
    let (here, there) = tokio::join!(here.confirm(), there.confirm());
    assert_eq!(here.unwrap().about, vec![3; 16 << 10]);
    let there = there.unwrap();
    assert_eq!(there.about, b"about b");
    let both: [SocketAddr; 2] = [forwarder.address, b.addresses()[0]];
    assert_eq!(there.addrs, both);
}
