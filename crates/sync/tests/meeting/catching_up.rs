//! Peers that are far behind, and more news than one meeting holds.

use sync::{ExchangeError, Limits};

use crate::shelf::{brisk, level, noise, pair, start};

#[tokio::test]
async fn a_peer_far_behind_catches_up_at_once() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    for n in 0..5000u64 {
        at_a.write(b"a's book", &[&n.to_be_bytes()[..], &[7; 200]].concat());
    }
    at_a.write(b"a's book", &noise(3_900_000, 1));
    at_a.write(b"a's book", b"last");
    let first: Vec<_> = at_a.look(|c| c.documents[b"a's book"][..100].to_vec());
    at_b.look(|c| c.documents.insert(*b"a's book", first));
    // The host hands its changes over in small parts.
    at_a.look(|c| c.part = Some(700));

    let report = b.exchange(a.id(), &a.addresses()).await.unwrap();
    assert_eq!(report.received_changes, 4902);
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn three_devices_hand_news_on() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    let (c, at_c) = start(3, brisk()).await;
    at_b.know(c.id());
    at_c.know(b.id());
    at_a.write_blob(b"a's book", noise(50_000, 2));
    a.exchange(b.id(), &b.addresses()).await.unwrap();
    c.exchange(b.id(), &b.addresses()).await.unwrap();
    assert!(level(&at_a, &at_c));
}

#[tokio::test]
async fn news_beyond_the_limits_waits_for_further_meetings() {
    let limits = Limits {
        changes: 10,
        change_bytes: 3000,
        blobs: 2,
        blob_bytes: 250_000,
        ..brisk()
    };
    let ((a, at_a), (b, at_b)) = pair(limits).await;
    for n in 0..25u8 {
        at_a.write(b"a's book", &[n; 300]);
        at_b.write(b"b's book", &[n; 60]);
    }
    for seed in 0..5 {
        at_a.write_blob(b"a's book", noise(100_000, seed));
    }
    let mut meetings = 0;
    loop {
        meetings += 1;
        let report = a.exchange(b.id(), &b.addresses()).await.unwrap();
        let theirs = at_b.ended(meetings).await.unwrap();
        assert!(report.sent_changes <= 10 && report.received_changes <= 10);
        assert!(report.sent_blobs <= 2);
        assert_eq!(report.more, theirs.more, "both know that there is more");
        if !report.more {
            break;
        }
        assert!(meetings < 20, "no end");
    }
    assert!(meetings > 3);
    assert!(level(&at_a, &at_b));
}

#[tokio::test]
async fn a_device_that_takes_less_is_sent_less() {
    let ((a, at_a), (_, _)) = pair(brisk()).await;
    let small = Limits {
        changes: 3,
        ..brisk()
    };
    let (c, at_c) = start(3, small).await;
    at_a.know(c.id());
    at_c.know(a.id());
    for n in 0..7u8 {
        at_a.write(b"a's book", &[n]);
    }
    let mut taken = Vec::new();
    for _ in 0..3 {
        let report = a.exchange(c.id(), &c.addresses()).await.unwrap();
        taken.push((report.sent_changes, report.more));
    }
    assert_eq!(taken, [(3, true), (3, true), (1, false)]);
    assert!(level(&at_a, &at_c));
}

#[tokio::test]
async fn a_change_too_large_to_send_holds_back_its_own_document_only() {
    let ((a, at_a), (b, at_b)) = pair(brisk()).await;
    at_a.write(b"huge one", b"first");
    at_a.write(b"huge one", &vec![0; Limits::CHANGE_BYTES]);
    at_a.write(b"huge one", b"behind it");
    at_a.write(b"next one", b"fine");
    let report = a.exchange(b.id(), &b.addresses()).await.unwrap();
    assert_eq!((report.sent_changes, report.held_back_documents), (2, 1));
    assert!(!report.more, "another meeting would not help");
    assert_eq!(at_b.look(|c| c.documents[b"huge one"].len()), 1);
    assert_eq!(at_b.look(|c| c.documents[b"next one"].len()), 1);
}

#[tokio::test]
async fn a_host_beyond_the_protocol_s_bounds_is_told_so() {
    let ((a, at_a), (b, _)) = pair(brisk()).await;
    for n in 0..=Limits::DOCUMENTS as u64 {
        at_a.write(&n.to_be_bytes(), b"");
    }
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(matches!(error, ExchangeError::Host(_)), "{error}");
}
