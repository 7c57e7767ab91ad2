//! Only devices that know each other meet.

use sync::ExchangeError;

use crate::shelf::{brisk, start};

#[tokio::test]
async fn a_stranger_is_closed_before_anything_is_asked_of_the_host() {
    let ((a, at_a), (b, at_b)) = (start(1, brisk()).await, start(2, brisk()).await);
    at_a.know(b.id());
    at_b.write(b"b's book", b"private");
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(matches!(error, ExchangeError::NotKnown), "{error}");
    assert!(at_b.look(|c| c.calls.is_empty() && c.ended.is_empty() && c.met.is_empty()));
    assert!(at_a.look(|c| c.documents.is_empty() && c.met.is_empty()));
}

#[tokio::test]
async fn a_stranger_is_not_called() {
    let ((a, at_a), (b, at_b)) = (start(1, brisk()).await, start(2, brisk()).await);
    at_b.know(a.id());
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(matches!(error, ExchangeError::Stranger), "{error}");
    assert!(at_a.look(|c| c.calls.is_empty()));
    assert!(at_b.look(|c| c.calls.is_empty()));
}

#[tokio::test]
async fn a_peer_no_longer_known_is_turned_away() {
    let ((a, at_a), (b, at_b)) = (start(1, brisk()).await, start(2, brisk()).await);
    at_a.know(b.id());
    at_b.know(a.id());
    a.exchange(b.id(), &b.addresses()).await.unwrap();
    at_b.look(|c| c.known.clear());
    let error = a.exchange(b.id(), &b.addresses()).await.unwrap_err();
    assert!(matches!(error, ExchangeError::NotKnown), "{error}");
}

#[tokio::test]
async fn an_impostor_at_a_known_address_is_not_met() {
    let ((a, at_a), (b, _)) = (start(1, brisk()).await, start(2, brisk()).await);
    let (c, at_c) = start(3, brisk()).await;
    at_a.know(b.id());
    at_c.know(a.id());
    let error = a.exchange(b.id(), &c.addresses()).await.unwrap_err();
    assert!(
        matches!(error, ExchangeError::Unreachable { .. }),
        "{error}"
    );
    assert!(at_c.look(|c| c.calls.is_empty()));
}
