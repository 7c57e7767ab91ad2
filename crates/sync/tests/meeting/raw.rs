//! Peers that write bytes of their own choice. The layout is written here a second time,
//! from its description, so that a change of it does not go unseen.

use std::net::SocketAddr;
use std::time::Duration;

use iroh::endpoint::{Connection, ConnectionError, RecvStream, SendStream, presets};
use iroh::{Endpoint, EndpointAddr, EndpointId, RelayMode, SecretKey};
use sync::{DeviceId, Node, PairingCode};

pub const EXCHANGE: &[u8] = b"pothook/exchange/3";
pub const PAIR: &[u8] = b"pothook/pair/1";

/// A bare endpoint with the key that `seed` gives.
pub async fn endpoint(seed: u8, alpn: &[u8]) -> (Endpoint, DeviceId, Vec<SocketAddr>) {
    let endpoint = Endpoint::builder(presets::Minimal)
        .secret_key(SecretKey::from_bytes(&[seed; 32]))
        .relay_mode(RelayMode::Disabled)
        .clear_address_lookup()
        .clear_ip_transports()
        .bind_addr("127.0.0.1:0")
        .unwrap()
        .alpns(vec![alpn.to_vec()])
        .bind()
        .await
        .unwrap();
    let id = DeviceId(*endpoint.id().as_bytes());
    let addresses = endpoint.bound_sockets();
    (endpoint, id, addresses)
}

pub async fn call(endpoint: &Endpoint, node: &Node, alpn: &[u8]) -> Connection {
    let mut to = EndpointAddr::new(EndpointId::from_bytes(&node.id().0).unwrap());
    for address in node.addresses() {
        to = to.with_ip_addr(address);
    }
    endpoint.connect(to, alpn).await.unwrap()
}

/// The number with which the node closed the connection.
pub async fn close_code(connection: &Connection) -> u64 {
    let closed = tokio::time::timeout(Duration::from_secs(20), connection.closed());
    match closed.await.expect("the node closes the connection") {
        ConnectionError::ApplicationClosed(close) => close.error_code.into_inner(),
        other => panic!("{other}"),
    }
}

pub fn varint(mut value: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    while value > 127 {
        bytes.push(value as u8 | 128);
        value >>= 7;
    }
    bytes.push(value as u8);
    bytes
}

pub fn frame(tag: u8, body: &[u8]) -> Vec<u8> {
    let mut bytes = (body.len() as u32).to_be_bytes().to_vec();
    bytes.push(tag);
    bytes.extend(body);
    bytes
}

/// The version of the exchange.
pub const VERSION: u64 = 3;

/// A greeting whose digest is of no list, and behind which a list follows at once.
pub fn hello(version: u64) -> Vec<u8> {
    let most = [varint(version), varint(1000), varint(1 << 20)].concat();
    frame(1, &[&most[..], &[0xEE; 32], &[1]].concat())
}

/// A greeting and a list of documents.
pub fn greeting(documents: &[(&[u8; 8], u64)]) -> Vec<u8> {
    [hello(VERSION), have(documents)].concat()
}

pub fn have(documents: &[(&[u8; 8], u64)]) -> Vec<u8> {
    let mut body = varint(documents.len() as u64);
    for (id, count) in documents {
        body.push(8);
        body.extend(*id);
        body.extend(varint(*count));
    }
    frame(2, &body)
}

pub fn changes(changes: &[Vec<u8>], last: bool) -> Vec<u8> {
    let mut body = varint(changes.len() as u64);
    for change in changes {
        body.extend(varint(change.len() as u64));
        body.extend(change);
    }
    body.push(last.into());
    frame(3, &body)
}

pub fn done(changes: u64, refused: u64, blobs: u64) -> Vec<u8> {
    let counts = [varint(changes), varint(refused), varint(blobs), vec![0]];
    frame(4, &counts.concat())
}

/// Within which the blobs of bare peers are.
pub const SCOPE: [u8; 16] = [0; 16];

pub fn ask(id: &[u8; 32], offset: u64) -> Vec<u8> {
    frame(5, &[&SCOPE[..], id, &varint(offset)].concat())
}

pub fn held(length: u64) -> Vec<u8> {
    frame(6, &[vec![1], varint(length)].concat())
}

/// The chaining values of a blob's groups of 64 KiB, by chunks of 1 KiB.
pub fn outline(bytes: &[u8]) -> Vec<u8> {
    use blake3::hazmat::{HasherExt, Mode, merge_subtrees_non_root};
    fn joined(values: &[[u8; 32]]) -> [u8; 32] {
        match values {
            [only] => *only,
            _ => {
                let half = 1 << (values.len() - 1).ilog2();
                let (left, right) = (joined(&values[..half]), joined(&values[half..]));
                merge_subtrees_non_root(&left, &right, Mode::Hash)
            }
        }
    }
    let chunks: Vec<[u8; 32]> = bytes
        .chunks(1024)
        .enumerate()
        .map(|(at, chunk)| {
            let mut hasher = blake3::Hasher::new();
            hasher.set_input_offset(at as u64 * 1024).update(chunk);
            hasher.finalize_non_root()
        })
        .collect();
    if chunks.len() <= 64 {
        return Vec::new();
    }
    chunks.chunks(64).flat_map(joined).collect()
}

/// Reads one frame: its tag and its body.
pub async fn read(recv: &mut RecvStream) -> (u8, Vec<u8>) {
    let mut head = [0; 5];
    recv.read_exact(&mut head).await.unwrap();
    let [a, b, c, d, tag] = head;
    let mut body = vec![0; u32::from_be_bytes([a, b, c, d]) as usize];
    recv.read_exact(&mut body).await.unwrap();
    (tag, body)
}

/// Reads up to and with the last batch of changes.
pub async fn read_changes(recv: &mut RecvStream) -> usize {
    let mut bytes = 0;
    loop {
        let (tag, body) = read(recv).await;
        bytes += body.len();
        if tag == 3 && body.last() == Some(&1) {
            return bytes;
        }
    }
}

/// Accepts the next stream and reads the question for a blob on it.
pub async fn accept_ask(connection: &Connection) -> (SendStream, RecvStream, [u8; 32], Vec<u8>) {
    let (send, mut recv) = connection.accept_bi().await.unwrap();
    let (tag, body) = read(&mut recv).await;
    assert_eq!(tag, 5);
    (
        send,
        recv,
        body[16..48].try_into().unwrap(),
        body[48..].to_vec(),
    )
}

/// The text of a code with another device's key, made by hand.
pub fn swap_device(code: &PairingCode, device: DeviceId) -> PairingCode {
    const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let text = code.to_string();
    let digits = text
        .split('-')
        .flat_map(|group| &group.as_bytes()[..group.len() - 1]);
    let mut bits: Vec<bool> = digits
        .map(|digit| DIGITS.iter().position(|d| d == digit).unwrap())
        .flat_map(|value| (0..5).rev().map(move |bit| value >> bit & 1 == 1))
        .collect();
    bits.truncate(bits.len() / 8 * 8);
    let mut bytes: Vec<u8> = bits
        .chunks(8)
        .map(|byte| {
            byte.iter()
                .fold(0, |value, &bit| value << 1 | u8::from(bit))
        })
        .collect();
    bytes[1..33].copy_from_slice(&device.0);
    let end = bytes.len() - 2;
    let sum = *blake3::hash(&bytes[..end]).as_bytes();
    bytes[end..].copy_from_slice(&sum[..2]);
    let mut bits: Vec<bool> = bytes
        .iter()
        .flat_map(|byte| (0..8).rev().map(move |bit| byte >> bit & 1 == 1))
        .collect();
    bits.resize(bits.len().div_ceil(5) * 5, false);
    let values: Vec<usize> = bits
        .chunks(5)
        .map(|digit| {
            digit
                .iter()
                .fold(0, |value, &bit| value << 1 | usize::from(bit))
        })
        .collect();
    let times_x = |value: usize| value << 1 ^ if value & 16 == 0 { 0 } else { 0b10_0101 };
    let groups: Vec<String> = values
        .chunks(5)
        .enumerate()
        .map(|(n, group)| {
            let sum = group
                .iter()
                .fold((n + 1) % 32, |sum, value| times_x(sum) ^ value);
            let all = group.iter().copied().chain([times_x(sum)]);
            all.map(|value| char::from(DIGITS[value])).collect()
        })
        .collect();
    groups.join("-").parse().unwrap()
}
