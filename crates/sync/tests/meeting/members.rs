//! Documents that decide who is a member, and hosts that change their mind midway.

use sync::ExchangeError;
use sync::memory::Faults;

use crate::shelf::{A, blob_id, document_of, hosts, level, meet, noise};

#[tokio::test(start_paused = true)]
async fn changes_come_in_the_host_s_order_of_documents() {
    for backwards in [false, true] {
        let (a, b) = hosts();
        for document in [b"document", b"of these", b"sequence"] {
            a.write(document, b"first");
            a.write(document, b"second");
        }
        a.look(|c| c.backwards = backwards);
        meet(&a, &b, &Faults::default()).await.0.unwrap();
        let came = b.look(|c| c.came.clone());
        let mut came: Vec<_> = came.iter().map(|(_, change)| document_of(change)).collect();
        came.dedup();
        let mut order = [*b"document", *b"of these", *b"sequence"];
        if backwards {
            order.reverse();
        }
        assert_eq!(came, order);
    }
}

#[tokio::test(start_paused = true)]
async fn a_peer_that_a_change_removes_is_met_no_further() {
    let (a, b) = hosts();
    a.write(b"1members", &noise(200_000, 1));
    a.write(b"2private", &noise(200_000, 2));
    let page = a.write_blob(b"2private", noise(5000, 3));
    b.look(|c| c.removes = Some((*b"1members", A)));
    let (one, other) = meet(&a, &b, &Faults::default()).await;
    assert!(matches!(one, Err(ExchangeError::NotKnown)), "{one:?}");
    assert!(matches!(other, Err(ExchangeError::Stranger)), "{other:?}");
    // What removed it is kept; nothing behind it was asked of the host.
    assert_eq!(b.look(|c| c.documents[b"1members"].len()), 1);
    assert!(b.look(|c| !c.documents.contains_key(b"2private") && !c.blobs.contains_key(&page)));
    let accepts = |calls: &[&str]| calls.iter().filter(|call| **call == "accept").count();
    assert_eq!(b.look(|c| accepts(&c.calls)), 1);
    let (again, _) = meet(&a, &b, &Faults::default()).await;
    assert!(matches!(again, Err(ExchangeError::NotKnown)), "{again:?}");
}

#[tokio::test(start_paused = true)]
async fn what_a_change_brings_into_view_comes_in_the_next_meeting() {
    for a_calls in [true, false] {
        let (a, b) = hosts();
        let (one, other) = if a_calls { (&a, &b) } else { (&b, &a) };
        one.know(crate::shelf::B);
        other.know(A);
        a.write(b"1members", b"the other belongs to this pupil too");
        b.write(b"2private", b"of that pupil");
        let page = b.write_blob(b"2private", noise(5000, 3));
        b.look(|c| c.hidden.insert(*b"2private"));
        b.look(|c| c.shows = Some((*b"1members", *b"2private")));

        let (first, second) = meet(one, other, &Faults::default()).await;
        assert!(
            first.unwrap().more && second.unwrap().more,
            "both know of more"
        );
        assert!(a.look(|c| !c.documents.contains_key(b"2private")));

        let (first, second) = meet(one, other, &Faults::default()).await;
        assert!(!first.unwrap().more && !second.unwrap().more);
        assert!(level(&a, &b));
        assert!(a.look(|c| c.blobs.contains_key(&page)));
    }
}

#[tokio::test(start_paused = true)]
async fn a_hidden_blob_is_answered_like_a_missing_one() {
    let secret = noise(300_000, 4);
    let mut answers = Vec::new();
    for held in [true, false] {
        let (a, b) = hosts();
        if held {
            let id = a.write_blob(b"my notes", secret.clone());
            a.look(|c| c.hidden.insert(*b"my notes"));
            a.look(|c| c.hidden_blobs.insert(id));
        }
        // Who asks has heard of the name elsewhere; who is asked does not hear of it.
        a.look(|c| c.refused.insert(*b"b's book"));
        b.write(b"b's book", &[b"blob", &blob_id(&secret).0[..]].concat());
        let begun = tokio::time::Instant::now();
        let (_, other) = meet(&a, &b, &Faults::default()).await;
        let other = other.unwrap();
        assert_eq!((other.missing_blobs, other.received_blobs), (1, 0));
        answers.push((other.bytes, begun.elapsed()));
    }
    assert_eq!(answers[0], answers[1], "in bytes and in time");
    assert!(answers[0].1 >= sync::Limits::MISSING);
}
