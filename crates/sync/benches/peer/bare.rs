//! The peer of a meeting: the same bytes through one bare QUIC stream.

use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use iroh::endpoint::presets;
use iroh::{Endpoint, EndpointAddr, RelayMode};

const ALPN: &[u8] = b"pothook/bench/1";

async fn endpoint() -> Endpoint {
    let builder = Endpoint::builder(presets::Minimal).relay_mode(RelayMode::Disabled);
    let builder = builder
        .clear_ip_transports()
        .bind_addr("127.0.0.1:0")
        .expect("an address");
    builder
        .alpns(vec![ALPN.to_vec()])
        .bind()
        .await
        .expect("a free port")
}

/// The same bytes through one stream of two bare endpoints, into a file for each photograph,
/// which is on the disk before the next one is read if `flush`.
pub async fn copy(photos: &[Arc<Vec<u8>>], folder: &Path, flush: bool) -> Duration {
    let (a, b) = (endpoint().await, endpoint().await);
    let mut to = EndpointAddr::new(a.id());
    for address in a.bound_sockets() {
        to = to.with_ip_addr(address);
    }
    let sending = async {
        let connection = a
            .accept()
            .await
            .expect("a call")
            .await
            .expect("a connection");
        let mut stream = connection.open_uni().await.expect("a stream");
        for photo in photos {
            stream.write_all(photo).await.expect("sent");
        }
        stream.finish().expect("sent");
        connection.closed().await;
    };
    let begun = Instant::now();
    let taking = async {
        let connection = b.connect(to, ALPN).await.expect("a connection");
        let mut stream = connection.accept_uni().await.expect("a stream");
        for (number, sent) in photos.iter().enumerate() {
            let mut photo = vec![0; sent.len()];
            stream.read_exact(&mut photo).await.expect("received");
            let path = folder.join(number.to_string());
            let written = tokio::task::spawn_blocking(move || {
                let mut file = File::create(path)?;
                file.write_all(&photo)?;
                if flush { file.sync_all() } else { Ok(()) }
            });
            written.await.expect("written").expect("written");
        }
        connection.close(0u32.into(), b"");
        begun.elapsed()
    };
    let ((), took) = tokio::join!(sending, taking);
    a.close().await;
    b.close().await;
    took
}
