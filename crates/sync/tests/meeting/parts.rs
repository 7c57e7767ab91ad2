//! Blobs that go on where a stream or a meeting broke.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use sync::memory::{Faults, Way};
use sync::{BlobId, ExchangeError, Limits};

use crate::shelf::{Shelf, blob_id, brisk, hosts, level, meet, noise, pair};

const GROUP: usize = 64 << 10;

/// A host with one blob and a host that wants it.
fn wanting(bytes: &[u8]) -> (Arc<Shelf>, Arc<Shelf>, BlobId) {
    let (a, b) = hosts();
    let id = a.write_blob(b"a's book", bytes.to_vec());
    (a, b, id)
}

fn cut(bytes: u64) -> Faults {
    let there = Way {
        cut_after: Some(bytes),
        ..Way::default()
    };
    Faults {
        there,
        ..Faults::default()
    }
}

#[tokio::test(start_paused = true)]
async fn a_blob_goes_on_where_the_meeting_broke() {
    let photo = noise(3_500_000, 1);
    for at in [
        70_000,
        65_000 + GROUP as u64,
        1_000_000,
        2_222_222,
        3_499_999,
    ] {
        let (a, b, id) = wanting(&photo);
        let (one, other) = meet(&a, &b, &cut(at)).await;
        assert!(one.is_err() && other.is_err());
        let kept = b.look(|c| c.parts.get(&id).map_or(0, Vec::len));
        assert!(kept.is_multiple_of(GROUP));
        // All that came but for a group, what was ahead of it, and its own beginning.
        let ahead = 4096;
        assert!(
            kept + GROUP + ahead > at as usize,
            "{kept} of {at} bytes kept"
        );

        let (_, other) = meet(&a, &b, &Faults::default()).await;
        let other = other.unwrap();
        assert_eq!((other.received_blobs, other.refused_blobs), (1, 0));
        let rest = (photo.len() - kept) as u64;
        assert!(
            other.bytes < rest + 4096,
            "{} bytes for the last {rest}",
            other.bytes
        );
        assert!(level(&a, &b));
        assert!(b.look(|c| c.parts.is_empty()));
    }
}

#[tokio::test(start_paused = true)]
async fn a_large_blob_is_handed_over_piece_by_piece_as_it_comes() {
    let (a, b, _) = wanting(&noise(7_000_000, 2));
    meet(&a, &b, &Faults::default()).await.1.unwrap();
    let handed = b.look(|c| c.handed.clone());
    assert_eq!(handed.len(), 3);
    let mut next = 0;
    for (from, length) in handed {
        assert_eq!(from, next);
        assert!(length >= 1 << 20, "{length} bytes are too small a piece");
        next += length as u64;
    }
    // One that is soon whole is written once.
    let (a, b, _) = wanting(&noise(1_200_000, 3));
    meet(&a, &b, &Faults::default()).await.1.unwrap();
    assert!(b.look(|c| c.handed.is_empty()));
}

#[tokio::test(start_paused = true)]
async fn a_part_that_went_bad_is_mended_or_replaced() {
    let photo = noise(1_000_000, 4);
    let other_photo = noise(1_000_000, 5);
    let flipped = |at: usize| {
        let mut part = photo[..10 * GROUP].to_vec();
        part[at] ^= 1;
        part
    };
    for (part, again) in [
        (flipped(7 * GROUP), 3 * GROUP),
        (flipped(0), 10 * GROUP),
        (other_photo[..3 * GROUP].to_vec(), 3 * GROUP),
        // More than the blob, right as far as it goes.
        ([&photo[..], &other_photo].concat(), 0),
        // More than any blob.
        (vec![0; Limits::BLOB_BYTES as usize + GROUP], 0),
        // Not of whole groups.
        (photo[..GROUP + 5].to_vec(), 0),
        (Vec::new(), 0),
        // Whole, and only to be kept.
        (photo.clone(), 0),
    ] {
        let (a, b, id) = wanting(&photo);
        let had = part.len().min(photo.len());
        b.look(|c| c.parts.insert(id, part));
        let (_, other) = meet(&a, &b, &Faults::default()).await;
        let other = other.unwrap();
        assert_eq!((other.received_blobs, other.refused_blobs), (1, 0));
        assert!(level(&a, &b));
        let most = if had == photo.len() {
            2 * GROUP
        } else {
            photo.len() - had + again + 2 * GROUP
        };
        assert!(
            other.bytes as usize <= most || again == 0,
            "{} bytes",
            other.bytes
        );
    }
}

#[tokio::test(start_paused = true)]
async fn a_blob_that_breaks_at_every_meeting_is_whole_in_the_end() {
    let (a, b, id) = wanting(&noise(1_500_000, 6));
    let mut meetings = 0;
    while !b.look(|c| c.blobs.contains_key(&id)) {
        meetings += 1;
        assert!(meetings <= 16, "no way on");
        let _ = meet(&a, &b, &cut(170_000)).await;
    }
    // Two groups a meeting, as 64 KiB three times do not pass.
    assert!(meetings >= 9, "{meetings} meetings");
}

#[tokio::test]
async fn a_meeting_that_its_caller_drops_keeps_what_came() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    for seed in 0..6 {
        at_a.write_blob(b"a's book", noise(4_000_000, seed));
    }
    let addresses = a.addresses();
    let mut meeting = Box::pin(b.exchange(a.id(), &addresses));
    let some = async {
        while at_b.look(|c| c.handed.is_empty()) {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    };
    tokio::select! {
        outcome = &mut meeting => panic!("over before anything was handed over: {outcome:?}"),
        () = some => drop(meeting),
    }
    let told = at_b.ended(1).await.unwrap_err();
    assert_eq!(told, "the meeting was closed");
    // The node is left in peace by then.
    b.close().await;
    let calls = at_b.look(|c| (c.calls.len(), c.handed.len()));
    tokio::time::sleep(Duration::from_millis(50)).await;
    assert_eq!(calls, at_b.look(|c| (c.calls.len(), c.handed.len())));
    for (id, part) in at_b.look(|c| c.parts.clone()) {
        let whole = at_a.look(|c| c.blobs[&id].clone());
        assert_eq!(whole[..part.len()], part);
        assert_eq!(blob_id(&whole), id);
    }
    assert!(at_b.look(|c| !c.parts.is_empty() || !c.blobs.is_empty()));
}

/// Waits until a host was asked for so many blobs, and sees that it is asked for no more.
async fn asked(host: &Shelf, expected: usize) {
    let now = || host.look(|c| c.calls.iter().filter(|call| **call == "blob").count());
    let begun = Instant::now();
    while now() < expected && begun.elapsed() < Duration::from_secs(10) {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert_eq!(now(), expected);
}

#[tokio::test]
async fn what_came_whole_and_waits_for_the_disk_outlives_the_meeting() {
    let limits = Limits {
        meeting: Duration::from_millis(1500),
        ..brisk()
    };
    let ((a, at_a), (b, at_b)) = pair(limits).await;
    for seed in 0..12 {
        at_a.write_blob(b"a's book", noise(100_000, seed));
    }
    at_b.holds_up.store(true, Ordering::Relaxed);
    let addresses = a.addresses();
    let (outcome, ()) = tokio::join!(b.exchange(a.id(), &addresses), async {
        asked(&at_a, 12).await;
        // The meeting's time is up by then.
        tokio::time::sleep(Duration::from_secs(2)).await;
        assert_eq!(at_b.look(|c| c.blobs.len()), 0);
        at_b.holds_up.store(false, Ordering::Relaxed);
    });
    assert!(matches!(outcome, Err(ExchangeError::Quiet)), "{outcome:?}");
    b.close().await;
    let begun = Instant::now();
    while at_b.look(|c| c.blobs.len()) < 12 && begun.elapsed() < Duration::from_secs(5) {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    assert_eq!(at_b.look(|c| c.blobs.len()), 12);
    assert!(at_b.look(|c| c.parts.is_empty()));
}

#[tokio::test]
async fn no_more_comes_than_a_slow_disk_may_keep_waiting() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    for seed in 0..60 {
        at_a.write_blob(b"a's book", noise(1 << 20, seed));
    }
    at_b.holds_up.store(true, Ordering::Relaxed);
    let addresses = a.addresses();
    let (outcome, ()) = tokio::join!(b.exchange(a.id(), &addresses), async {
        // Sixteen of a mebibyte, and one more of each of the four that fetch.
        asked(&at_a, 20).await;
        at_b.holds_up.store(false, Ordering::Relaxed);
    });
    assert_eq!(outcome.unwrap().received_blobs, 60);
    assert!(level(&at_a, &at_b));
}
