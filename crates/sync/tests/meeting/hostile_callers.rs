//! A known device that sends what it should not.

use std::sync::Arc;
use std::time::Duration;

use iroh::endpoint::{Connection, RecvStream, SendStream};
use sync::{Limits, Node};

use crate::raw::{
    self, EXCHANGE, VERSION, ask, changes, close_code, done, frame, greeting, have, hello, varint,
};
use crate::shelf::{Shelf, brisk, change, level, noise, start};

const OLDER: u64 = 2;
const MALFORMED: u64 = 3;
const TOO_MUCH: u64 = 4;
const QUIET: u64 = 6;
const BUSY: u64 = 7;

/// A node, its host, and a raw device that it knows.
async fn rig(limits: Limits) -> (Node, Arc<Shelf>, iroh::Endpoint) {
    let (node, shelf) = start(1, limits).await;
    let (raw, id, _) = raw::endpoint(9, EXCHANGE).await;
    shelf.know(id);
    (node, shelf, raw)
}

async fn call(raw: &iroh::Endpoint, node: &Node) -> (Connection, SendStream, RecvStream) {
    let connection = raw::call(raw, node, EXCHANGE).await;
    let (send, recv) = connection.open_bi().await.unwrap();
    (connection, send, recv)
}

/// Sends the bytes on the thread and gives the number with which the node closes.
async fn told(bytes: &[u8], finish: bool) -> u64 {
    let (node, shelf, raw) = rig(brisk()).await;
    shelf.write(b"its book", b"something");
    let (connection, mut send, _recv) = call(&raw, &node).await;
    // The node may close before all is written.
    let _ = send.write_all(bytes).await;
    if finish {
        let _ = send.finish();
    }
    let code = close_code(&connection).await;
    assert!(shelf.ended(1).await.is_err());
    assert!(shelf.look(|c| c.met.is_empty() && !c.calls.contains(&"accept")));
    code
}

#[tokio::test]
async fn garbage_is_refused() {
    assert_eq!(told(&[0; 64], true).await, MALFORMED);
    // A text: its fifth byte is above every known tag.
    assert_eq!(told(b"GET / HTTP/1.1\r\n\r\n", true).await, OLDER);
    let known = greeting(&[]);
    assert_eq!(
        told(&[&known[..], &[0; 64]].concat(), true).await,
        MALFORMED
    );
    let noise = frame(3, &noise(5000, 1));
    assert_eq!(told(&[known, noise].concat(), true).await, MALFORMED);
}

#[tokio::test]
async fn huge_lengths_are_refused_at_their_head() {
    assert_eq!(told(&[255, 255, 255, 255, 1], false).await, TOO_MUCH);
    assert_eq!(
        told(
            &[hello(VERSION), vec![255, 255, 255, 255, 2]].concat(),
            false
        )
        .await,
        TOO_MUCH
    );
    let known = greeting(&[]);
    assert_eq!(
        told(&[known, vec![0, 128, 0, 0, 3]].concat(), false).await,
        TOO_MUCH
    );
}

#[tokio::test]
async fn huge_counts_and_lengths_inside_are_refused() {
    let known = greeting(&[]);
    let many = frame(3, &[varint(1 << 40), vec![1]].concat());
    assert_eq!(told(&[known.clone(), many].concat(), true).await, MALFORMED);
    let long = frame(3, &[varint(1), varint(1 << 40), vec![1]].concat());
    assert_eq!(told(&[known, long].concat(), true).await, MALFORMED);
    let named = frame(2, &[varint(1), varint(65), vec![7; 65], varint(1)].concat());
    assert_eq!(
        told(&[hello(VERSION), named].concat(), true).await,
        MALFORMED
    );
}

#[tokio::test]
async fn truncated_frames_are_refused() {
    let whole = greeting(&[(b"its book", 1)]);
    for cut in [0, 3, 5, 8, whole.len() - 1, whole.len()] {
        assert_eq!(told(&whole[..cut], true).await, MALFORMED, "cut at {cut}");
    }
    let early = [greeting(&[]), changes(&[], true)].concat();
    assert_eq!(told(&early, true).await, MALFORMED, "without a summary");
}

#[tokio::test]
async fn a_newer_device_is_told_that_this_one_is_older() {
    assert_eq!(told(&hello(VERSION + 1), false).await, OLDER);
    let mut grown = [
        varint(7),
        varint(1),
        varint(1),
        vec![9; 33],
        b"and more".to_vec(),
    ]
    .concat();
    grown = frame(1, &grown);
    assert_eq!(told(&grown, false).await, OLDER);
    assert_eq!(
        told(&[hello(VERSION), frame(40, b"?")].concat(), false).await,
        OLDER
    );
    let (node, shelf, raw) = rig(brisk()).await;
    let (connection, mut send, _recv) = call(&raw, &node).await;
    send.write_all(&hello(VERSION + 1)).await.unwrap();
    close_code(&connection).await;
    let told = shelf.ended(1).await.unwrap_err();
    assert_eq!(told, "the other device is newer: update this device");
}

#[tokio::test]
async fn a_flood_of_changes_is_cut_off_at_the_limit() {
    let limits = Limits {
        changes: 20,
        change_bytes: 10_000,
        ..brisk()
    };
    for (size, count) in [(0, 12), (1000, 9)] {
        let (node, shelf, raw) = rig(limits.clone()).await;
        let (connection, mut send, _recv) = call(&raw, &node).await;
        let batch: Vec<_> = (0..count)
            .map(|n| change(b"its book", n, &vec![0; size]))
            .collect();
        send.write_all(&greeting(&[])).await.unwrap();
        for _ in 0..100 {
            if send.write_all(&changes(&batch, false)).await.is_err() {
                break;
            }
        }
        assert_eq!(close_code(&connection).await, TOO_MUCH);
        assert_eq!(
            shelf.look(|c| c.calls.iter().filter(|call| **call == "accept").count()),
            1
        );
    }
}

#[tokio::test]
async fn empty_batches_without_end_are_refused() {
    let known = [greeting(&[]), changes(&[], false)].concat();
    assert_eq!(told(&known, false).await, MALFORMED);
}

#[tokio::test]
async fn a_summary_that_does_not_fit_is_refused() {
    let known = [greeting(&[(b"its book", 1)]), changes(&[], true)].concat();
    assert_eq!(
        told(&[known, done(3, 0, 0)].concat(), false).await,
        MALFORMED
    );
}

#[tokio::test]
async fn lies_about_what_it_has_harm_only_itself() {
    let (node, shelf, raw) = rig(brisk()).await;
    shelf.write(b"its book", b"something");
    let (connection, mut send, mut recv) = call(&raw, &node).await;
    let lies = have(&[(b"its book", u64::MAX), (b"no such ", 3), (b"its book", 9)]);
    let all = [hello(VERSION), lies, changes(&[], true), done(0, 0, 0)].concat();
    send.write_all(&all).await.unwrap();
    raw::read_changes(&mut recv).await;
    assert_eq!(raw::read(&mut recv).await.0, 4);
    connection.close(0u32.into(), b"");
    let report = shelf.ended(1).await.unwrap();
    assert_eq!((report.sent_changes, report.arrived_changes), (0, 0));
    assert_eq!(shelf.look(|c| c.documents.len()), 1);
}

#[tokio::test]
async fn a_silent_caller_is_left() {
    let quiet = Duration::from_millis(200);
    let (node, shelf, raw) = rig(Limits { quiet, ..brisk() }).await;
    let (connection, mut send, _recv) = call(&raw, &node).await;
    send.write_all(&hello(VERSION)).await.unwrap();
    assert_eq!(close_code(&connection).await, QUIET);
    assert!(shelf.ended(1).await.is_err());
}

#[tokio::test]
async fn a_trickling_caller_is_left_when_the_meeting_s_time_is_up() {
    let meeting = Duration::from_millis(600);
    let (node, _, raw) = rig(Limits { meeting, ..brisk() }).await;
    let (connection, mut send, _recv) = call(&raw, &node).await;
    for byte in hello(VERSION) {
        if send.write_all(&[byte]).await.is_err() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(close_code(&connection).await, QUIET);
}

#[tokio::test]
async fn one_peer_has_few_meetings_at_once() {
    let (node, shelf, raw) = rig(brisk()).await;
    let mut open = Vec::new();
    for _ in 0..2 {
        let (connection, mut send, mut recv) = call(&raw, &node).await;
        send.write_all(&greeting(&[])).await.unwrap();
        assert_eq!(raw::read(&mut recv).await.0, 1);
        open.push((connection, send, recv));
    }
    let (third, mut send, _recv) = call(&raw, &node).await;
    let _ = send.write_all(&hello(VERSION)).await;
    assert_eq!(close_code(&third).await, BUSY);
    // A place is free again when a meeting has ended.
    open.pop().unwrap().0.close(0u32.into(), b"");
    assert!(shelf.ended(1).await.is_err());
    let (_fourth, mut send, mut recv) = call(&raw, &node).await;
    send.write_all(&greeting(&[])).await.unwrap();
    assert_eq!(raw::read(&mut recv).await.0, 1);
}

#[tokio::test]
async fn questions_for_blobs_are_bounded_and_judged() {
    let blobs = 2;
    let (node, shelf, raw) = rig(Limits {
        blobs,
        blob_bytes: 150,
        ..brisk()
    })
    .await;
    let id = shelf.write_blob(b"its book", noise(100, 5));
    let (connection, _send, _recv) = {
        let (connection, mut send, recv) = call(&raw, &node).await;
        send.write_all(&greeting(&[])).await.unwrap();
        (connection, send, recv)
    };
    let mut answers = Vec::new();
    for (id, offset) in [(id.0, 0), (id.0, 60), (id.0, 0), ([7; 32], 0), (id.0, 100)] {
        let (mut send, mut recv) = connection.open_bi().await.unwrap();
        send.write_all(&ask(&id, offset)).await.unwrap();
        let (tag, body) = raw::read(&mut recv).await;
        let rest = recv.read_to_end(1000).await.unwrap();
        answers.push((tag, body, rest));
    }
    let whole = noise(100, 5);
    let held = |rest: &[u8]| (6, vec![1, 100], rest.to_vec());
    assert_eq!(answers[0], held(&whole));
    assert_eq!(answers[1], held(&whole[60..]));
    assert_eq!(answers[2], (6, vec![2], vec![]), "no more in this meeting");
    assert_eq!(answers[3], (6, vec![0], vec![]), "missing");
    assert_eq!(answers[4], held(&[]));
    for _ in 0..3 {
        let (mut send, mut recv) = connection.open_bi().await.unwrap();
        send.write_all(&ask(&[7; 32], 0)).await.unwrap();
        assert_eq!(raw::read(&mut recv).await.0, 6);
    }
    let (mut send, _recv) = connection.open_bi().await.unwrap();
    let _ = send.write_all(&ask(&id.0, 0)).await;
    assert_eq!(close_code(&connection).await, TOO_MUCH);
}

#[tokio::test]
async fn behind_the_end_of_a_blob_there_is_nothing() {
    let (node, shelf, raw) = rig(brisk()).await;
    let id = shelf.write_blob(b"its book", noise(100, 5));
    let (connection, mut send, _recv) = call(&raw, &node).await;
    send.write_all(&greeting(&[])).await.unwrap();
    for offset in [101, u64::MAX] {
        let (mut send, mut recv) = connection.open_bi().await.unwrap();
        send.write_all(&ask(&id.0, offset)).await.unwrap();
        assert_eq!(raw::read(&mut recv).await, (6, vec![1, 100]));
        assert!(recv.read_to_end(1000).await.unwrap().is_empty());
    }
}

#[tokio::test]
async fn an_honest_peer_is_served_beside_a_hostile_one() {
    let (node, shelf, raw) = rig(brisk()).await;
    shelf.write_blob(b"its book", noise(300_000, 6));
    let mut hostile = Vec::new();
    for _ in 0..2 {
        let (connection, mut send, recv) = call(&raw, &node).await;
        send.write_all(&[0, 64, 0, 0, 3]).await.unwrap();
        hostile.push((connection, send, recv));
    }
    let (other, at_other) = start(2, brisk()).await;
    shelf.know(other.id());
    at_other.know(node.id());
    other.exchange(node.id(), &node.addresses()).await.unwrap();
    assert!(level(&shelf, &at_other));
}
