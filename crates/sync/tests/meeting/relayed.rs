//! Devices that find each other through a relay of their own, or in spite of one.

use std::sync::Arc;
use std::time::Duration;

use iroh_relay::server::{RelayConfig, Server, ServerConfig};
use sync::{ExchangeError, Host, Network, Node};

use crate::rough::{PATIENT, apart, fill};
use crate::shelf::{Shelf, brisk, level};

async fn relay() -> (Server, String) {
    let mut config = ServerConfig::default();
    config.relay = Some(RelayConfig::new(([127, 0, 0, 1], 0)));
    let server = Server::spawn(config).await.unwrap();
    let address = format!("http://{}", server.http_addr().unwrap());
    (server, address)
}

#[tokio::test]
async fn a_relay_carries_a_meeting_where_there_is_no_direct_way() {
    let (_server, address) = relay().await;
    let ((a, at_a), (b, at_b)) = apart(Some(&address), PATIENT).await;
    fill(&at_a, &at_b);
    // No address at all, and then one that leads nowhere.
    a.exchange(b.id(), &[]).await.unwrap();
    assert!(level(&at_a, &at_b));
    at_b.write(b"b's book", b"more");
    a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert!(level(&at_a, &at_b));
    // Pairing too: a code leads to the device through the relay.
    let offer = b.offer(Vec::new()).unwrap();
    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), a.join(&code, Vec::new()));
    assert_eq!(here.unwrap().words, there.unwrap().words);
}

#[tokio::test]
async fn without_the_relay_they_do_not_meet() {
    let (server, address) = relay().await;
    let ((a, _), (b, _)) = apart(Some(&address), Duration::from_secs(2)).await;
    server.shutdown().await.unwrap();
    let outcome = a.exchange(b.id(), &[]).await;
    assert!(
        matches!(outcome, Err(ExchangeError::Unreachable { .. })),
        "{outcome:?}"
    );
}

#[tokio::test]
async fn a_relay_that_does_not_answer_delays_nobody_who_is_near() {
    // It takes connections and never says a word.
    let silent = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", silent.local_addr().unwrap());
    let start = async |seed: u8| {
        let shelf = Arc::new(Shelf::default());
        let network = Network::At {
            address: "127.0.0.1:0".parse().unwrap(),
            relay: Some(address.parse().unwrap()),
        };
        // Whoever waited for the relay would wait longer than these limits let it.
        let host = Arc::clone(&shelf) as Arc<dyn Host>;
        let node = Node::start_within([seed; 32], network, host, brisk()).await;
        (node.unwrap(), shelf)
    };
    let ((a, at_a), (b, at_b)) = (start(1).await, start(2).await);
    at_a.know(b.id());
    at_b.know(a.id());
    fill(&at_a, &at_b);
    a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert!(level(&at_a, &at_b));
    // Beside an address that leads nowhere, too.
    at_a.write(b"a's book", b"more");
    let nowhere = "127.0.0.1:9".parse().unwrap();
    let addresses = [&[nowhere], &b.addresses()[..]].concat();
    a.exchange(b.id(), &addresses).await.unwrap();
    assert!(level(&at_a, &at_b));
}
