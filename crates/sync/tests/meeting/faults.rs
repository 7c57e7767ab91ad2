//! Meetings in memory with whatever may go wrong: all end level, and each again the same.

use std::sync::Arc;
use std::time::Duration;

use proptest::prelude::*;
use sync::memory::{Faults, Way};
use sync::{ExchangeError, Limits, Report};
use tokio::time::Instant;

use crate::shelf::{Shelf, hosts, level, meet, meet_within, noise};

/// Runs on one thread with a clock that moves by itself when nothing else does.
fn paused<T>(future: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap()
        .block_on(future)
}

fn way() -> impl Strategy<Value = Way> {
    (
        0..400u64,
        0..500u64,
        any::<u64>(),
        prop::option::of(20_000..2_000_000u64),
    )
        .prop_map(|(delay, spread, seed, bytes_per_second)| Way {
            delay: Duration::from_millis(delay),
            spread: Duration::from_millis(spread),
            seed,
            bytes_per_second,
            cut_after: None,
        })
}

fn faults() -> impl Strategy<Value = Faults> {
    (way(), way()).prop_map(|(there, back)| Faults { there, back })
}

/// What one side has: for each document its changes, and the sizes of blobs.
fn books() -> impl Strategy<Value = Vec<(u8, usize, Option<usize>)>> {
    let blob = prop::option::weighted(0.4, prop_oneof![0..3000usize, 60_000..200_000usize]);
    prop::collection::vec((0..4u8, 0..3000usize, blob), 0..12)
}

fn write(shelf: &Shelf, name: u8, books: &[(u8, usize, Option<usize>)]) {
    for (at, (document, size, blob)) in books.iter().enumerate() {
        let id = [name, b'b', b'o', b'o', b'k', b' ', b'0' + document, 0];
        shelf.write(&id, &noise(*size, at as u8));
        if let Some(size) = blob {
            shelf.write_blob(&id, noise(*size, name ^ at as u8));
        }
    }
}

fn filled(
    a: &[(u8, usize, Option<usize>)],
    b: &[(u8, usize, Option<usize>)],
) -> (Arc<Shelf>, Arc<Shelf>) {
    let (at_a, at_b) = hosts();
    write(&at_a, b'a', a);
    write(&at_b, b'b', b);
    (at_a, at_b)
}

/// Slow enough for what the strategies above make of a way.
fn patient() -> Limits {
    Limits {
        meeting: Duration::from_secs(4 * 3600),
        ..Limits::default()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn one_meeting_is_enough_however_slow_and_out_of_order(
        a in books(), b in books(), faults in faults(),
    ) {
        let (at_a, at_b) = filled(&a, &b);
        let (one, other) = paused(meet_within(&at_a, &at_b, &patient(), &faults));
        let (one, other) = (one.unwrap(), other.unwrap());
        prop_assert!(level(&at_a, &at_b));
        prop_assert!(!one.more && !other.more);
        prop_assert_eq!((one.sent_changes, one.sent_blobs), (other.received_changes, other.received_blobs));
        prop_assert_eq!(one.bytes, other.bytes);
    }

    #[test]
    fn meetings_that_break_anywhere_lose_nothing(
        a in books(), b in books(), faults in faults(),
        cuts in prop::collection::vec((any::<bool>(), any::<prop::sample::Index>()), 1..6),
    ) {
        let (at_a, at_b) = filled(&a, &b);
        paused(async {
            for (there, at) in cuts {
                let mut faults = faults;
                let way = if there { &mut faults.there } else { &mut faults.back };
                way.cut_after = Some(at.index(400_000) as u64);
                let (one, other) = meet_within(&at_a, &at_b, &patient(), &faults).await;
                for outcome in [one, other] {
                    let broken = |error: &ExchangeError| matches!(
                        error, ExchangeError::Interrupted { .. } | ExchangeError::Closed
                    );
                    assert!(outcome.as_ref().is_ok_and(|r| r.refused_changes == 0)
                        || outcome.as_ref().is_err_and(broken), "{outcome:?}");
                }
            }
            let (one, other) = meet_within(&at_a, &at_b, &patient(), &faults).await;
            let (one, other) = (one.unwrap(), other.unwrap());
            assert_eq!((one.refused_blobs, other.refused_blobs), (0, 0));
        });
        prop_assert!(level(&at_a, &at_b));
    }

    #[test]
    fn the_same_faults_give_the_same_meeting(a in books(), b in books(), faults in faults()) {
        let run = || {
            let (at_a, at_b) = filled(&a, &b);
            let (outcomes, begun) = paused(async {
                let begun = Instant::now();
                (meet_within(&at_a, &at_b, &patient(), &faults).await, begun)
            });
            let came = |shelf: &Shelf| shelf.look(|c| {
                let came = c.came.iter().map(|(at, what)| (at.duration_since(begun), what.clone()));
                (came.collect::<Vec<_>>(), c.calls.clone(), c.progress.clone())
            });
            (outcomes.0.unwrap(), outcomes.1.unwrap(), came(&at_a), came(&at_b))
        };
        prop_assert_eq!(run(), run());
    }
}

#[tokio::test(start_paused = true)]
async fn streams_that_overtake_each_other_are_told_apart() {
    let mut orders = Vec::new();
    for seed in 0..8 {
        let (a, b) = hosts();
        for n in 0..40 {
            a.write_blob(b"a's book", noise(3000, n));
        }
        let way = Way {
            delay: Duration::from_millis(20),
            spread: Duration::from_millis(300),
            seed,
            ..Way::default()
        };
        let faults = Faults {
            there: way,
            back: way,
        };
        let (one, _): (Result<Report, _>, _) = meet(&a, &b, &faults).await;
        assert_eq!(one.unwrap().sent_blobs, 40);
        assert!(level(&a, &b));
        let order: Vec<_> = b.look(|c| c.came.iter().map(|(_, what)| what.clone()).collect());
        orders.push(order);
    }
    assert!(
        orders[1..].iter().any(|order| *order != orders[0]),
        "nothing was out of order"
    );
}

#[tokio::test(start_paused = true)]
async fn a_link_that_goes_silent_is_left() {
    let (a, b) = hosts();
    a.write_blob(b"a's book", noise(3_000_000, 1));
    let there = Way {
        bytes_per_second: Some(10),
        ..Way::default()
    };
    let faults = Faults {
        there,
        ..Faults::default()
    };
    let (one, other) = meet(&a, &b, &faults).await;
    for outcome in [one, other] {
        let quiet = matches!(outcome, Err(ExchangeError::Quiet));
        assert!(quiet, "{outcome:?}");
    }
}
