//! How far a meeting is, told as it goes.

use std::time::Duration;

use sync::Progress;
use sync::memory::{Faults, Way};

use crate::shelf::{hosts, meet, noise};

#[tokio::test(start_paused = true)]
async fn progress_is_told_four_times_a_second_and_grows_to_the_end() {
    let (a, b) = hosts();
    for n in 0..30 {
        a.write(b"a's book", &[n; 400]);
    }
    for seed in 0..5 {
        a.write_blob(b"a's book", noise(200_000, seed));
    }
    let slow = Way {
        bytes_per_second: Some(100_000),
        delay: Duration::from_millis(30),
        ..Way::default()
    };
    let faults = Faults {
        there: slow,
        back: slow,
    };
    let begun = tokio::time::Instant::now();
    let (_, report) = meet(&a, &b, &faults).await;
    let (report, took) = (report.unwrap(), begun.elapsed());
    assert!(
        took > Duration::from_secs(10),
        "a megabyte at 100 kB a second: {took:?}"
    );

    let told = b.look(|c| c.progress.clone());
    let most = took.as_millis() / 250;
    assert!(
        told.len() as u128 <= most && told.len() > 30,
        "{} times",
        told.len()
    );
    for (earlier, later) in told.iter().zip(&told[1..]) {
        assert!(earlier.received <= later.received && earlier.sent <= later.sent);
        assert!(earlier.changes <= later.changes && earlier.blobs <= later.blobs);
        assert!(earlier != later);
    }
    for Progress {
        received,
        to_receive,
        ..
    } in &told
    {
        assert!(to_receive.is_none_or(|expected| *received <= expected));
    }
    let last = told.last().unwrap();
    assert_eq!((last.changes, last.changes_expected), (35, 35));
    assert_eq!(last.blobs_expected, Some(5));
    // But for the summary, what was expected at the end is what came.
    let expected = last.to_receive.unwrap() + last.sent;
    assert!(
        report.bytes - expected < 100,
        "{expected} of {}",
        report.bytes
    );
    let first = told
        .iter()
        .find(|progress| progress.to_receive.is_some())
        .unwrap();
    assert!(
        first.received < first.to_receive.unwrap(),
        "lengths are told before bytes"
    );
}

#[tokio::test(start_paused = true)]
async fn a_meeting_that_is_soon_over_tells_none() {
    let (a, b) = hosts();
    a.write(b"a's book", b"short");
    meet(&a, &b, &Faults::default()).await.0.unwrap();
    assert!(a.look(|c| c.progress.is_empty()) && b.look(|c| c.progress.is_empty()));
}

#[tokio::test(start_paused = true)]
async fn a_part_that_is_here_is_not_expected_again() {
    let (a, b) = hosts();
    let photo = noise(1_000_000, 1);
    let id = a.write_blob(b"a's book", photo.clone());
    let kept = 10 * (64 << 10);
    b.look(|c| c.parts.insert(id, photo[..kept].to_vec()));
    let there = Way {
        bytes_per_second: Some(100_000),
        ..Way::default()
    };
    let faults = Faults {
        there,
        ..Faults::default()
    };
    meet(&a, &b, &faults).await.0.unwrap();
    let expected = b.look(|c| c.progress.last().unwrap().to_receive.unwrap());
    let rest = (photo.len() - kept) as u64;
    assert!(
        (rest..rest + 2000).contains(&expected),
        "{expected} for {rest}"
    );
}
