//! Devices that announce themselves on their network.

use std::net::{Ipv4Addr, UdpSocket};
use std::sync::Arc;
use std::time::Duration;

use iroh::{EndpointId, SecretKey};
use iroh_mdns_address_lookup::{DiscoveryEvent, MdnsAddressLookup};
use sync::{DeviceId, ExchangeError, Host, Limits, Network, News, Node};
use tokio_stream::StreamExt;

use crate::rough::fill;
use crate::shelf::{Shelf, brisk, level};

/// Long enough for a few rounds of announcements.
const ROUNDS: Duration = Duration::from_secs(4);

async fn local(seed: u8, mdns: bool, relay: Option<&str>) -> (Node, Arc<Shelf>) {
    let shelf = Arc::new(Shelf::default());
    let network = Network::Local {
        port: 0,
        mdns,
        relay: relay.map(|relay| relay.parse().unwrap()),
    };
    // Whoever waited for a look-up that finds nothing would wait longer than this.
    let limits = Limits {
        connect: Duration::from_secs(5),
        ..brisk()
    };
    let host = Arc::clone(&shelf) as Arc<dyn Host>;
    let node = Node::start_within([seed; 32], network, host, limits).await;
    (node.unwrap(), shelf)
}

async fn two(seeds: [u8; 2], mdns: [bool; 2]) -> ((Node, Arc<Shelf>), (Node, Arc<Shelf>)) {
    let a = local(seeds[0], mdns[0], None).await;
    let b = local(seeds[1], mdns[1], None).await;
    a.1.know(b.0.id());
    b.1.know(a.0.id());
    fill(&a.1, &b.1);
    (a, b)
}

/// Whether a datagram to a multicast group comes back on this machine.
fn has_multicast() -> bool {
    // Of the block that RFC 5771 (9.2) leaves to a site's own use.
    let group = Ipv4Addr::new(239, 255, 77, 77);
    let try_it = || {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        socket.join_multicast_v4(&group, &Ipv4Addr::UNSPECIFIED)?;
        socket.set_read_timeout(Some(Duration::from_secs(1)))?;
        socket.send_to(b"anybody?", (group, socket.local_addr()?.port()))?;
        socket.recv(&mut [0; 16])
    };
    let there = try_it().is_ok();
    if !there {
        eprintln!("This machine has no multicast: nothing to try here.");
    }
    there
}

#[tokio::test]
async fn announced_devices_find_each_other_without_an_address() {
    if !has_multicast() {
        return;
    }
    let ((a, at_a), (b, at_b)) = two([31, 32], [true, true]).await;
    assert!(a.announced() && b.announced());
    a.exchange(b.id(), &[]).await.unwrap();
    assert!(level(&at_a, &at_b));
    // And beside an address that leads nowhere.
    at_b.write(b"b's book", b"more");
    let nowhere = "127.0.0.1:9".parse().unwrap();
    a.exchange(b.id(), &[nowhere]).await.unwrap();
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn an_announcement_is_news() {
    if !has_multicast() {
        return;
    }
    let (a, _) = local(33, true, None).await;
    let mut news = a.news();
    let (b, _) = local(34, true, None).await;
    let appeared = async { while news.recv().await.unwrap() != News::Appeared(b.id()) {} };
    tokio::time::timeout(ROUNDS, appeared)
        .await
        .expect("b is seen");
}

/// Listens beside the devices, as anybody on the network may; gives what is told of each.
async fn overheard(of: &[DeviceId]) -> Vec<Option<iroh::address_lookup::EndpointInfo>> {
    let own = SecretKey::from_bytes(&[99; 32]).public();
    let listener = MdnsAddressLookup::builder()
        .advertise(false)
        .build(own)
        .unwrap();
    let mut events = listener.subscribe().await;
    let mut told = vec![None; of.len()];
    let listening = async {
        while let Some(event) = events.next().await {
            if let DiscoveryEvent::Discovered { endpoint_info, .. } = event {
                let id = |device: &DeviceId| EndpointId::from_bytes(&device.0).unwrap();
                let at = of
                    .iter()
                    .position(|device| id(device) == endpoint_info.endpoint_id);
                if let Some(at) = at {
                    told[at] = Some(endpoint_info);
                }
            }
        }
    };
    let _ = tokio::time::timeout(ROUNDS, listening).await;
    told
}

#[tokio::test]
async fn an_announcement_shows_key_and_addresses_and_ends_with_the_node() {
    if !has_multicast() {
        return;
    }
    let (stays, _) = local(35, true, Some("https://relay.invalid")).await;
    let (leaves, _) = local(36, true, None).await;
    let (silent, _) = local(37, false, None).await;
    assert!(!silent.announced());
    let all = [stays.id(), leaves.id(), silent.id()];
    let told = overheard(&all).await;
    let stayed = told[0].as_ref().expect("an announced device is seen");
    assert!(stayed.data.ip_addrs().count() > 0);
    assert_eq!(
        stayed.data.relay_urls().count(),
        0,
        "a relay is nobody's business"
    );
    assert_eq!(stayed.data.user_data(), None);
    assert!(told[1].is_some());
    assert!(told[2].is_none(), "announced though not wanted");

    leaves.close().await;
    let told = overheard(&all).await;
    assert!(told[0].is_some());
    assert!(told[1].is_none(), "announced though it left");
}

#[tokio::test]
async fn a_look_up_that_finds_nothing_delays_nobody_whose_address_is_known() {
    // The called device announces nothing, or the network lets no announcement through.
    let ((a, at_a), (b, at_b)) = two([38, 39], [true, false]).await;
    a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert!(level(&at_a, &at_b));
    b.close().await;
    let outcome = a.exchange(b.id(), &[]).await;
    assert!(
        matches!(outcome, Err(ExchangeError::Unreachable { .. })),
        "{outcome:?}"
    );
}
