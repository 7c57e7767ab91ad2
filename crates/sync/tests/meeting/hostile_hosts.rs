//! A known device that is called and answers what it should not.

use std::sync::Arc;

use iroh::endpoint::{Connection, RecvStream, SendStream};
use sync::{ExchangeError, Limits, Node, Report};

use crate::raw::{
    self, EXCHANGE, accept_ask, changes, close_code, done, frame, greeting, held, outline, varint,
};
use crate::shelf::{Shelf, brisk, noise, start};

type Thread = (Connection, SendStream, RecvStream);

/// Has a node call a raw device that plays `part` after it has greeted.
async fn exchange_with<F: Future<Output = ()>>(
    at_node: impl FnOnce(&Shelf),
    part: impl FnOnce(Thread) -> F,
) -> (Result<Report, ExchangeError>, Arc<Shelf>) {
    let (node, shelf): (Node, _) = start(1, brisk()).await;
    at_node(&shelf);
    let (raw, id, addresses) = raw::endpoint(9, EXCHANGE).await;
    shelf.know(id);
    let play = async {
        let connection = raw.accept().await.unwrap().await.unwrap();
        let (mut send, mut recv) = connection.accept_bi().await.unwrap();
        send.write_all(&greeting(&[])).await.unwrap();
        raw::read_changes(&mut recv).await;
        part((connection, send, recv)).await;
    };
    let (outcome, ()) = tokio::join!(node.exchange(id, &addresses), play);
    (outcome, shelf)
}

/// Ends a meeting well after the blobs.
async fn part_well((connection, mut send, mut recv): Thread, sent: u64) {
    let (tag, body) = raw::read(&mut recv).await;
    assert_eq!((tag, body[0]), (4, 0));
    send.write_all(&done(sent, 0, 0)).await.unwrap();
    connection.closed().await;
}

fn wanting(blobs: &[&[u8]]) -> impl FnOnce(&Shelf) {
    let blobs: Vec<_> = blobs.iter().map(|blob| blob.to_vec()).collect();
    move |shelf| {
        for blob in blobs {
            let id = shelf.write_blob(b"its book", blob);
            shelf.look(|c| c.blobs.remove(&id));
        }
    }
}

#[tokio::test]
async fn a_blob_whose_stream_breaks_is_gone_on_with() {
    let blob = noise(1_000_000, 1);
    let served = blob.clone();
    let (outcome, shelf) = exchange_with(wanting(&[&blob]), async move |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        // Two streams break, one before its answer is whole.
        let (mut send, _recv, _, offset) = accept_ask(&thread.0).await;
        assert_eq!(offset, varint(0));
        send.write_all(&held(1_000_000)).await.unwrap();
        send.write_all(&outline(&served)).await.unwrap();
        send.write_all(&served[..600_000]).await.unwrap();
        send.finish().unwrap();
        let (mut send, _recv, _, offset) = accept_ask(&thread.0).await;
        assert_eq!(offset, varint(600_000));
        send.write_all(&held(1_000_000)[..3]).await.unwrap();
        send.reset(0u32.into()).unwrap();
        let (mut send, _recv, _, offset) = accept_ask(&thread.0).await;
        assert_eq!(offset, varint(600_000));
        send.write_all(&held(1_000_000)).await.unwrap();
        send.write_all(&outline(&served)).await.unwrap();
        send.write_all(&served[600_000..]).await.unwrap();
        send.finish().unwrap();
        part_well(thread, 1).await;
    })
    .await;
    let report = outcome.unwrap();
    assert_eq!((report.received_blobs, report.refused_blobs), (1, 0));
    assert!(shelf.look(|c| c.blobs.values().any(|bytes| *bytes == blob)));
}

#[tokio::test]
async fn a_blob_with_wrong_bytes_is_refused() {
    let (blob, other) = (noise(5000, 1), noise(400, 3));
    let right = other.clone();
    let (outcome, shelf) = exchange_with(wanting(&[&blob, &other]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        for _ in 0..2 {
            let (mut send, _recv, id, _) = accept_ask(&thread.0).await;
            let answer = if id == *blake3::hash(&right).as_bytes() {
                right.clone()
            } else {
                noise(5000, 2)
            };
            send.write_all(&held(answer.len() as u64)).await.unwrap();
            send.write_all(&answer).await.unwrap();
            send.finish().unwrap();
        }
        part_well(thread, 2).await;
    })
    .await;
    let report = outcome.unwrap();
    assert_eq!((report.received_blobs, report.refused_blobs), (1, 1));
    let kept: Vec<_> = shelf.look(|c| c.blobs.values().cloned().collect());
    assert_eq!(kept, [other]);
}

#[tokio::test]
async fn a_wrong_byte_is_noticed_within_its_group_and_ends_only_its_blob() {
    let (blob, other) = (noise(3_000_000, 1), noise(400, 3));
    let (mut wrong, right) = (blob.clone(), other.clone());
    wrong[5 * (64 << 10) + 9] ^= 1;
    let truth = blob.clone();
    let (outcome, shelf) = exchange_with(wanting(&[&blob, &other]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        for _ in 0..2 {
            let (mut send, _recv, id, _) = accept_ask(&thread.0).await;
            if id == *blake3::hash(&right).as_bytes() {
                send.write_all(&held(400)).await.unwrap();
                send.write_all(&right).await.unwrap();
                send.finish().unwrap();
            } else {
                send.write_all(&held(3_000_000)).await.unwrap();
                send.write_all(&outline(&truth)).await.unwrap();
                // Up to the end of the wrong group; then it is told to stop.
                send.write_all(&wrong[..6 * (64 << 10)]).await.unwrap();
                assert_eq!(send.stopped().await.unwrap(), Some(0u32.into()));
            }
        }
        part_well(thread, 2).await;
    })
    .await;
    let report = outcome.unwrap();
    assert_eq!((report.received_blobs, report.refused_blobs), (1, 1));
    let right_until_there = blob[..5 * (64 << 10)].to_vec();
    let parts: Vec<_> = shelf.look(|c| c.parts.values().cloned().collect());
    assert_eq!(parts, [right_until_there]);
}

#[tokio::test]
async fn an_outline_of_something_else_ends_its_blob() {
    let blob = noise(300_000, 1);
    let (outcome, shelf) = exchange_with(wanting(&[&blob]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        let (mut send, _recv, _, _) = accept_ask(&thread.0).await;
        send.write_all(&held(300_000)).await.unwrap();
        send.write_all(&outline(&noise(300_000, 2))).await.unwrap();
        assert_eq!(send.stopped().await.unwrap(), Some(0u32.into()));
        part_well(thread, 1).await;
    })
    .await;
    assert_eq!(outcome.unwrap().refused_blobs, 1);
    assert!(shelf.look(|c| c.blobs.is_empty() && c.parts.is_empty()));
}

#[tokio::test]
async fn a_blob_that_never_comes_whole_is_given_up() {
    let blob = noise(5000, 1);
    let (outcome, shelf) = exchange_with(wanting(&[&blob]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        for _ in 0..16 {
            let (mut send, _recv, _, _) = accept_ask(&thread.0).await;
            send.reset(0u32.into()).unwrap();
        }
        part_well(thread, 1).await;
    })
    .await;
    assert_eq!(outcome.unwrap().refused_blobs, 1);
    assert!(shelf.look(|c| c.blobs.is_empty()));
}

/// Answers the first question for a blob with these bytes.
async fn answered(answer: Vec<u8>) -> ExchangeError {
    let (outcome, shelf) = exchange_with(wanting(&[b"a photo"]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        let (mut send, _recv, _, _) = accept_ask(&thread.0).await;
        // The node may close before all is written.
        let _ = send.write_all(&answer).await;
        let _ = send.finish();
        thread.0.closed().await;
    })
    .await;
    assert!(shelf.look(|c| c.blobs.is_empty()));
    outcome.unwrap_err()
}

#[tokio::test]
async fn lies_about_a_blob_s_size_end_the_meeting() {
    let error = answered(held(Limits::BLOB_BYTES + 1)).await;
    assert!(
        matches!(error, ExchangeError::TooMuch { what: "blob" }),
        "{error}"
    );
    let error = answered(held(u64::MAX)).await;
    assert!(
        matches!(error, ExchangeError::TooMuch { what: "blob" }),
        "{error}"
    );
    let error = answered([held(7), b"a photo and more".to_vec()].concat()).await;
    assert!(
        matches!(error, ExchangeError::TooMuch { what: "blob" }),
        "{error}"
    );
    let error = answered(frame(6, &[9])).await;
    assert!(matches!(error, ExchangeError::Malformed { .. }), "{error}");
    let error = answered(frame(77, &[])).await;
    assert!(matches!(error, ExchangeError::Newer), "{error}");
}

#[tokio::test]
async fn a_length_that_changes_midway_ends_the_meeting() {
    let (outcome, _) = exchange_with(wanting(&[b"a photo"]), async |mut thread: Thread| {
        thread.1.write_all(&changes(&[], true)).await.unwrap();
        for length in [7, 8] {
            let (mut send, _recv, _, _) = accept_ask(&thread.0).await;
            send.write_all(&held(length)).await.unwrap();
            send.finish().unwrap();
        }
        thread.0.closed().await;
    })
    .await;
    let error = outcome.unwrap_err();
    assert!(
        matches!(error, ExchangeError::Malformed { what: "blob" }),
        "{error}"
    );
}

#[tokio::test]
async fn a_called_device_that_is_older_or_refuses_is_told_apart() {
    for (code, expected) in [
        (2u32, "the other device is older: update that device"),
        (3, "the other device refused what this device sent"),
        (5, "the other device could not read or write"),
        (8, "the meeting was closed"),
    ] {
        let (outcome, _) = exchange_with(
            |_| {},
            async |thread: Thread| {
                thread.0.close(code.into(), b"");
            },
        )
        .await;
        assert_eq!(outcome.unwrap_err().to_string(), expected);
    }
}

#[tokio::test]
async fn a_device_that_no_longer_speaks_this_protocol_is_newer() {
    let (node, shelf) = start(1, brisk()).await;
    let (raw, id, addresses) = raw::endpoint(9, b"pothook/exchange/4").await;
    shelf.know(id);
    let play = async {
        let refused = raw.accept().await.unwrap().await;
        assert!(refused.is_err());
    };
    let (outcome, ()) = tokio::join!(node.exchange(id, &addresses), play);
    let error = outcome.unwrap_err();
    assert!(matches!(error, ExchangeError::Newer), "{error}");
}

#[tokio::test]
async fn a_device_that_speaks_only_the_protocol_before_this_is_older() {
    let (node, shelf) = start(1, brisk()).await;
    let (raw, id, addresses) = raw::endpoint(9, b"pothook/exchange/2").await;
    shelf.know(id);
    let play = async {
        let connection = raw.accept().await.unwrap().await.unwrap();
        close_code(&connection).await
    };
    let (outcome, code) = tokio::join!(node.exchange(id, &addresses), play);
    assert!(matches!(outcome, Err(ExchangeError::Older)), "{outcome:?}");
    assert_eq!(code, 8, "leaving");
    assert!(shelf.look(|c| c.calls.is_empty()));
}
