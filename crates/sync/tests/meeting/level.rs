//! Two devices are brought level, both ways.

use std::time::Duration;

use sync::memory::Faults;
use sync::{ExchangeError, Limits};

use crate::shelf::{Shelf, blob_id, brisk, hosts, level, meet, noise, pair, scope_of, start_on};

#[tokio::test]
async fn one_exchange_brings_both_sides_level_and_the_next_sends_nothing() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    let photo = noise(3_000_000, 1);
    for n in 0..3u8 {
        at_a.write(b"a's book", &[n; 40]);
    }
    let id = at_a.write_blob(b"a's book", photo.clone());
    for n in 0..5u8 {
        at_b.write(b"b's book", &[n; 400]);
    }
    at_b.write_blob(b"b's book", noise(70_000, 2));
    at_b.write_blob(b"b's book", Vec::new());

    let report = a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert!(level(&at_a, &at_b));
    assert_eq!(at_b.look(|c| c.blobs[&id].clone()), photo);
    assert_eq!((report.sent_changes, report.received_changes), (4, 7));
    assert_eq!((report.sent_blobs, report.received_blobs), (1, 2));
    assert_eq!((report.refused_changes, report.refused_blobs), (0, 0));
    assert!(!report.more);
    let content = 3_070_000 + 4 * 60 + 7 * 400;
    assert!(report.bytes >= 3_070_000 && report.bytes < content + 1500);

    let theirs = at_b.ended(1).await.unwrap();
    assert_eq!((theirs.sent_changes, theirs.received_changes), (7, 4));
    assert_eq!((theirs.sent_blobs, theirs.received_blobs), (2, 1));
    assert_eq!(theirs.bytes, report.bytes);
    assert_eq!(at_a.look(|c| c.met.clone()), [(b.id(), b.addresses())]);
    assert_eq!(at_b.look(|c| c.met.clone()), [(a.id(), a.addresses())]);

    // The other one calls this time.
    let again = b.exchange(a.id(), &a.addresses()).await.unwrap();
    assert_eq!((again.sent_changes, again.arrived_changes), (0, 0));
    assert_eq!((again.sent_blobs, again.received_blobs), (0, 0));
    assert!(again.bytes <= 1024, "{} bytes for no news", again.bytes);
}

#[tokio::test]
async fn both_may_call_at_once() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    for n in 0..50u8 {
        at_a.write(b"a's book", &[n; 3000]);
        at_b.write(b"b's book", &[n; 3000]);
    }
    at_a.write_blob(b"a's book", noise(400_000, 3));
    let (to_b, to_a) = (b.addresses(), a.addresses());
    let (one, other) = tokio::join!(a.exchange(b.id(), &to_b), b.exchange(a.id(), &to_a));
    assert_eq!(one.unwrap().refused_changes, 0);
    assert_eq!(other.unwrap().refused_changes, 0);
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn what_a_peer_may_not_see_is_not_told() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    at_a.write(b"a's book", b"for both");
    at_a.write(b"my notes", b"for nobody");
    let secret = noise(9000, 4);
    let id = at_a.write_blob(b"my notes", secret.clone());
    at_a.look(|c| c.hidden.insert(*b"my notes"));
    at_a.look(|c| c.hidden_blobs.insert(id));
    // It names the hash all the same, as if it had heard of it elsewhere, and one that
    // nobody has: both are answered alike.
    at_b.write(b"b's book", &[b"blob", &blob_id(&secret).0[..]].concat());
    at_b.write(b"b's book", &[b"blob", &[7; 32][..]].concat());
    at_b.write(b"my notes", b"mine too, of the same name");

    let report = b.exchange(a.id(), &a.addresses()).await.unwrap();
    assert_eq!(report.received_changes, 1);
    assert_eq!((report.received_blobs, report.missing_blobs), (0, 2));
    assert!(!at_b.look(|c| c.blobs.contains_key(&id)));
    assert_eq!(at_b.look(|c| c.documents[b"my notes"].len()), 1);
}

#[tokio::test]
async fn refused_changes_are_counted_and_stop_nothing_else() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    at_a.write(b"bad book", b"forged");
    at_a.write(b"fine one", b"genuine");
    at_b.look(|c| c.refused.insert(*b"bad book"));
    let report = a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert_eq!((report.sent_changes, report.refused_changes), (2, 0));
    let theirs = at_b.ended(1).await.unwrap();
    assert_eq!((theirs.received_changes, theirs.refused_changes), (1, 1));
    assert_eq!(at_b.look(|c| c.documents[b"fine one"].len()), 1);
}

#[tokio::test]
async fn a_disk_that_fails_midway_loses_nothing() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    for n in 0..6u8 {
        at_a.write(b"a's book", &noise(200_000, n));
    }
    at_b.look(|c| c.accepts_left = Some(2));
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(matches!(error, ExchangeError::PeerHost), "{error}");
    let told = at_b.ended(1).await.unwrap_err();
    assert!(told.contains("the disk is full"), "{told}");
    assert_eq!(at_b.look(|c| c.documents[b"a's book"].len()), 2);

    at_b.look(|c| c.accepts_left = None);
    let report = a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert_eq!(report.sent_changes, 4);
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn a_device_that_leaves_midway_is_met_again() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    at_a.write(b"a's book", b"first");
    for seed in 0..8 {
        at_a.write_blob(b"a's book", noise(2_000_000, seed));
    }
    let addresses = a.addresses();
    let (outcome, ()) = tokio::join!(b.exchange(a.id(), &addresses), async {
        at_a.blob_asked.notified().await;
        a.close().await;
    });
    let error = outcome.unwrap_err();
    assert!(
        matches!(
            error,
            ExchangeError::Interrupted { .. } | ExchangeError::Closed
        ),
        "{error}"
    );
    assert_eq!(at_b.look(|c| c.documents[b"a's book"].len()), 9);
    assert!(at_b.look(|c| c.blobs.len()) < 8);

    let a = start_on(1, brisk(), &at_a).await;
    let report = b.exchange(a.id(), &a.addresses()).await.unwrap();
    assert_eq!(report.arrived_changes, 0);
    assert!(report.received_blobs > 0);
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn a_blob_is_asked_for_within_the_documents_that_name_it() {
    let (a, b) = hosts();
    let id = a.write_blob(b"a's book", noise(1000, 4));
    a.look(|contents| {
        contents.only_within.insert(id, scope_of(b"a's book"));
        contents.hidden.insert(*b"a's book");
    });
    // Whoever has heard of the name gets nothing by naming it in a document of its own.
    b.write(b"b's book", &[b"blob", &id.0[..]].concat());
    let (_, at_b) = meet(&a, &b, &Faults::default()).await;
    let report = at_b.unwrap();
    assert_eq!((report.received_blobs, report.missing_blobs), (0, 1));
    a.look(|contents| contents.hidden.clear());
    let (_, at_b) = meet(&a, &b, &Faults::default()).await;
    let report = at_b.unwrap();
    assert_eq!((report.received_blobs, report.missing_blobs), (1, 1));
}

#[tokio::test]
async fn the_end_of_a_meeting_is_told_with_what_it_began_with() {
    let (a, b) = hosts();
    a.write(b"a's book", b"one");
    b.write(b"b's book", b"one");
    b.write(b"b's book", b"two");
    let (at_a, _) = meet(&a, &b, &Faults::default()).await;
    at_a.unwrap();
    let began = |shelf: &Shelf| shelf.look(|contents| contents.had.clone());
    assert_eq!(began(&a), [[(b"a's book".to_vec(), 1)]]);
    assert_eq!(began(&b), [[(b"b's book".to_vec(), 2)]]);
}

#[tokio::test]
async fn a_peer_that_is_not_there_is_unreachable() {
    let connect = Duration::from_millis(300);
    let ((a, _), (b, _)) = pair(Limits { connect, ..brisk() }).await;
    let (peer, addresses) = (b.id(), b.addresses());
    b.close().await;
    for addresses in [&addresses[..], &[]] {
        let error = a.exchange(peer, addresses).await.unwrap_err();
        assert!(
            matches!(error, ExchangeError::Unreachable { .. }),
            "{error}"
        );
    }
}

#[tokio::test]
async fn a_closed_node_calls_nobody() {
    let ((a, _), (b, _)) = pair(brisk()).await;
    a.close().await;
    a.close().await;
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(
        matches!(error, ExchangeError::Unreachable { .. }),
        "{error}"
    );
}
