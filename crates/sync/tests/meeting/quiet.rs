//! What a meeting costs: bytes and round trips, in memory.

use std::time::Duration;

use sync::Limits;
use sync::memory::Faults;
use tokio::time::Instant;

use crate::shelf::{Shelf, delay, hosts, level, meet, noise};

/// Gives both the same documents.
fn alike(a: &Shelf, b: &Shelf, documents: u64) {
    for n in 0..documents {
        for shelf in [a, b] {
            shelf.write(&n.to_be_bytes(), b"old news");
        }
    }
}

#[tokio::test(start_paused = true)]
async fn nothing_new_costs_below_a_kibibyte_whatever_there_is() {
    for documents in [0, 1, 30, 60, 70, 80, 500, Limits::DOCUMENTS as u64] {
        let (a, b) = hosts();
        alike(&a, &b, documents);
        // The other order makes no difference.
        b.look(|c| c.backwards = true);
        for (one, other) in [(&a, &b), (&b, &a)] {
            // Who calls is asked by the id of the host; here both are known to both.
            one.know(crate::shelf::B);
            other.know(crate::shelf::A);
            let (one, other) = meet(one, other, &Faults::default()).await;
            let (one, other) = (one.unwrap(), other.unwrap());
            assert_eq!(
                (one.sent_changes, one.arrived_changes, one.more),
                (0, 0, false)
            );
            assert_eq!(one.bytes, other.bytes);
            assert!(
                one.bytes <= 1024,
                "{} bytes for {documents} documents",
                one.bytes
            );
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_blob_that_is_wanted_is_asked_for_though_no_change_is_new() {
    let (a, b) = hosts();
    let photo = noise(200_000, 1);
    let id = a.write_blob(b"a's book", photo.clone());
    let names_it = a.look(|c| c.documents.clone());
    b.look(|c| c.documents = names_it);
    let (there, here) = meet(&b, &a, &Faults::default()).await;
    // In this meeting b is the caller, under the other's name.
    assert!(there.is_err() && here.is_err());
    let (_, here) = meet(&a, &b, &Faults::default()).await;
    let here = here.unwrap();
    assert_eq!((here.arrived_changes, here.received_blobs), (0, 1));
    assert_eq!(b.look(|c| c.blobs[&id].clone()), photo);
}

/// Writes news on both sides and gives the number of one-way trips after which each had
/// all of the other's.
async fn trips(documents: u64) -> (u128, u128) {
    const TRIP: Duration = Duration::from_millis(100);
    let (a, b) = hosts();
    alike(&a, &b, documents);
    for n in 0..20 {
        a.write(b"a's book", &[n; 150]);
        b.write(b"b's book", &[n; 150]);
    }
    let begun = Instant::now();
    let (one, other) = meet(&a, &b, &delay(100)).await;
    assert_eq!(
        (
            one.unwrap().received_changes,
            other.unwrap().received_changes
        ),
        (20, 20)
    );
    assert!(level(&a, &b));
    let trips = |shelf: &Shelf| {
        let last = shelf.look(|c| c.came.last().unwrap().0);
        last.duration_since(begun).as_millis() / TRIP.as_millis()
    };
    (trips(&a), trips(&b))
}

#[tokio::test(start_paused = true)]
async fn news_is_with_both_within_three_round_trips() {
    // A short list comes with the caller's greeting: the caller's news needs three trips,
    // the answer to the greeting brings the other's.
    assert_eq!(trips(3).await, (2, 3));
    // A long one is sent when the digests differ.
    assert_eq!(trips(1000).await, (4, 3));
}

#[tokio::test(start_paused = true)]
async fn a_page_costs_little_more_than_its_bytes() {
    let (a, b) = hosts();
    alike(&a, &b, 20);
    for n in 0..14 {
        a.write(b"a's book", &[n; 150]);
    }
    a.look(|c| c.documents.get_mut(b"a's book").unwrap().pop());
    a.write_blob(b"a's book", noise(1_200_000, 1));
    let (one, _) = meet(&a, &b, &Faults::default()).await;
    let content = 1_200_000 + 13 * 166 + 52;
    let over = one.unwrap().bytes - content;
    // 19 groups of 64 KiB have an outline of 608 bytes.
    assert!((608..2048).contains(&over), "{over} bytes more");
}
