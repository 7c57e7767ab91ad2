//! What a hostile peer announces is not what this device allocates. Alone in its
//! program, because the allocator that it watches is the whole program's.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use iroh::endpoint::presets;
use iroh::{Endpoint, EndpointAddr, EndpointId, RelayMode, SecretKey};
use sync::{BlobId, DeviceId, Host, HostError, Limits, Network, Node, Taken, Wanted};

/// The system's allocator, remembering the largest block asked for.
struct Watched;

static LARGEST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is handed to the system's allocator unchanged.
unsafe impl GlobalAlloc for Watched {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        LARGEST.fetch_max(layout.size(), Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        unsafe { System.dealloc(block, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Watched = Watched;

/// A host that knows everybody and wants one blob.
struct Open;

impl Host for Open {
    fn knows(&self, _: DeviceId) -> bool {
        true
    }
    fn have(&self, _: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> {
        Ok(Vec::new())
    }
    fn changes(&self, _: DeviceId, _: &[u8], _: u64) -> Result<Vec<Vec<u8>>, HostError> {
        Ok(Vec::new())
    }
    fn accept(&self, _: DeviceId, _: Vec<Vec<u8>>) -> Result<Taken, HostError> {
        Ok(Taken::default())
    }
    fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> {
        let (scope, id) = ([1; 16], BlobId([1; 32]));
        Ok(vec![Wanted { scope, id }])
    }
    fn blob(&self, _: DeviceId, _: Wanted) -> Result<Option<Vec<u8>>, HostError> {
        Ok(None)
    }
    fn keep_blob(&self, _: DeviceId, _: Wanted, _: Vec<u8>) -> Result<(), HostError> {
        Ok(())
    }
    fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
}

#[tokio::test]
async fn what_is_announced_is_not_allocated() {
    let limits = Limits {
        quiet: Duration::from_millis(1500),
        ..Limits::default()
    };
    let loopback = SocketAddr::from(([127, 0, 0, 1], 0));
    let network = Network::Loopback { port: 0 };
    let node = Node::start_within([1; 32], network, Arc::new(Open), limits);
    let node = node.await.unwrap();
    let raw = Endpoint::builder(presets::Minimal)
        .secret_key(SecretKey::from_bytes(&[9; 32]))
        .relay_mode(RelayMode::Disabled)
        .clear_address_lookup()
        .clear_ip_transports()
        .bind_addr(loopback)
        .unwrap()
        .bind()
        .await
        .unwrap();
    let mut to = EndpointAddr::new(EndpointId::from_bytes(&node.id().0).unwrap());
    for address in node.addresses() {
        to = to.with_ip_addr(address);
    }
    // A greeting of version 3 that takes nothing and whose digest is of no list; no documents.
    let greeting = [&[0, 0, 0, 36, 1, 3, 0, 0][..], &[0xEE; 32], &[1]].concat();
    let greeting = [&greeting[..], &[0, 0, 0, 1, 2, 0]].concat();
    let nothing = [0, 0, 0, 2, 3, 0, 1];
    for (thread, blob) in [
        // More than any frame may hold.
        (vec![255, 255, 255, 255, 1], None),
        // As much as a frame of changes may hold, of which little comes.
        ([&greeting[..], &[0, 64, 0, 0, 3], &[0; 100]].concat(), None),
        // In a frame of moderate size: 2^40 changes; one change of 2^40 bytes.
        (
            [
                &greeting[..],
                &[0, 0, 0, 7, 3, 128, 128, 128, 128, 128, 32, 1],
            ]
            .concat(),
            None,
        ),
        (
            [
                &greeting[..],
                &[0, 0, 0, 8, 3, 1, 128, 128, 128, 128, 128, 32, 1],
            ]
            .concat(),
            None,
        ),
        // A blob of 32 MiB, of which little comes.
        (
            [&greeting[..], &nothing].concat(),
            Some([0, 0, 0, 5, 6, 1, 128, 128, 128, 16]),
        ),
    ] {
        let connection = raw
            .connect(to.clone(), b"pothook/exchange/3")
            .await
            .unwrap();
        LARGEST.store(0, Ordering::Relaxed);
        let (mut send, _recv) = connection.open_bi().await.unwrap();
        send.write_all(&thread).await.unwrap();
        if let Some(answer) = blob {
            let (mut send, _recv) = connection.accept_bi().await.unwrap();
            send.write_all(&answer).await.unwrap();
            send.write_all(&[0; 100]).await.unwrap();
        }
        connection.closed().await;
        let largest = LARGEST.load(Ordering::Relaxed);
        assert!(
            largest < 512 << 10,
            "{largest} bytes at once for {thread:?}"
        );
    }
}
