//! Two devices that did not know each other.

use std::sync::Arc;
use std::time::Duration;

use sync::{Limits, Node, PairError, PairingCode};

use crate::raw::{self, PAIR, close_code, frame, swap_device, varint};
use crate::shelf::{Shelf, brisk, start};

async fn two(limits: Limits) -> (Node, Node) {
    let (tutor, _): (_, Arc<Shelf>) = start(1, limits.clone()).await;
    let (parent, _) = start(2, limits).await;
    (tutor, parent)
}

#[tokio::test]
async fn both_see_the_same_words_and_are_handed_each_other_s_payload() {
    let (tutor, parent) = two(brisk()).await;
    let offer = tutor.offer(b"about the tutor".to_vec()).unwrap();
    let shown = offer.code().to_string();
    let code: PairingCode = shown.parse().unwrap();
    assert_eq!(code.device(), tutor.id());
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, vec![7; 16 << 10]));
    let (here, there) = (here.unwrap(), there.unwrap());
    assert_eq!(here.words, there.words);
    assert_eq!((here.peer, there.peer), (parent.id(), tutor.id()));
    let (here, there) = tokio::join!(here.confirm(), there.confirm());
    let (here, there) = (here.unwrap(), there.unwrap());
    assert_eq!((here.peer, there.peer), (parent.id(), tutor.id()));
    assert_eq!(here.about, vec![7; 16 << 10]);
    assert_eq!(there.about, b"about the tutor");
    assert_eq!(here.addrs, parent.addresses());
    assert_eq!(there.addrs, tutor.addresses());
}

#[tokio::test]
async fn words_differ_from_pairing_to_pairing() {
    let (tutor, parent) = two(brisk()).await;
    let mut seen = Vec::new();
    for _ in 0..3 {
        let offer = tutor.offer(Vec::new()).unwrap();
        let code = offer.code();
        let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
        assert_eq!(here.unwrap().words, there.as_ref().unwrap().words);
        seen.push(there.unwrap().words);
    }
    assert!(seen[0] != seen[1] && seen[1] != seen[2] && seen[0] != seen[2]);
}

#[tokio::test]
async fn a_wrong_secret_is_refused_and_the_fifth_closes_the_offer() {
    let (tutor, parent) = two(brisk()).await;
    // The secret of an earlier offer is a wrong one for the next.
    let stale = tutor.offer(Vec::new()).unwrap().code();
    let offer = tutor.offer(Vec::new()).unwrap();
    for _ in 0..4 {
        let error = parent.join(&stale, Vec::new()).await.unwrap_err();
        assert!(matches!(error, PairError::WrongSecret), "{error}");
    }
    let error = parent.join(&stale, Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::TooManyTries), "{error}");
    let error = parent.join(&offer.code(), Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::TooManyTries), "{error}");
    assert!(matches!(offer.joined().await, Err(PairError::TooManyTries)));
}

#[tokio::test]
async fn many_wrong_secrets_at_once_get_no_more_tries() {
    let (tutor, parent) = two(brisk()).await;
    let stale = tutor.offer(Vec::new()).unwrap().code();
    let offer = tutor.offer(Vec::new()).unwrap();
    let parent = Arc::new(parent);
    let mut tries = tokio::task::JoinSet::new();
    for _ in 0..12 {
        let (parent, stale) = (Arc::clone(&parent), stale.clone());
        tries.spawn(async move { parent.join(&stale, Vec::new()).await.unwrap_err() });
    }
    let errors = tries.join_all().await;
    let wrong = errors
        .iter()
        .filter(|e| matches!(e, PairError::WrongSecret));
    assert_eq!(wrong.count(), 4);
    assert!(matches!(offer.joined().await, Err(PairError::TooManyTries)));
}

#[tokio::test]
async fn four_wrong_secrets_leave_the_offer_open_for_the_right_one() {
    let (tutor, parent) = two(brisk()).await;
    let stale = tutor.offer(Vec::new()).unwrap().code();
    let offer = tutor.offer(Vec::new()).unwrap();
    for _ in 0..4 {
        parent.join(&stale, Vec::new()).await.unwrap_err();
    }
    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
    assert_eq!(here.unwrap().words, there.unwrap().words);
}

#[tokio::test]
async fn an_offer_that_ran_out_admits_nobody() {
    let offer = Duration::from_millis(200);
    let (tutor, parent) = two(Limits { offer, ..brisk() }).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    assert!(matches!(offer.joined().await, Err(PairError::Expired)));
    let error = parent.join(&offer.code(), Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::Expired), "{error}");
}

#[tokio::test]
async fn the_time_to_confirm_runs_out() {
    let offer = Duration::from_secs(2);
    let (tutor, parent) = two(Limits { offer, ..brisk() }).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
    let _unanswered = here.unwrap();
    let error = there.unwrap().confirm().await.unwrap_err();
    assert!(matches!(error, PairError::Expired), "{error}");
}

#[tokio::test]
async fn a_code_has_one_use_so_an_onlooker_who_is_first_is_noticed() {
    let (tutor, parent) = two(brisk()).await;
    let (onlooker, _) = start(3, brisk()).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    let copied: PairingCode = offer.code().to_string().parse().unwrap();
    let (here, onlooker_s) = tokio::join!(offer.joined(), onlooker.join(&copied, Vec::new()));
    let (here, onlooker_s) = (here.unwrap(), onlooker_s.unwrap());
    // The parent, beside the tutor, has no words to compare.
    let error = parent.join(&copied, Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::NoOffer), "{error}");
    here.refuse();
    let error = onlooker_s.confirm().await.unwrap_err();
    assert!(matches!(error, PairError::Refused), "{error}");
    assert!(matches!(offer.joined().await, Err(PairError::NoOffer)));
}

#[tokio::test]
async fn one_in_the_middle_who_pairs_with_both_shows_itself_by_the_words() {
    let (tutor, parent) = two(brisk()).await;
    let (middle, _) = start(3, brisk()).await;
    // It has copied the tutor's code, and the parent was shown one of its own instead.
    let (shown, swapped) = (
        tutor.offer(Vec::new()).unwrap(),
        middle.offer(Vec::new()).unwrap(),
    );
    let (copied, given) = (shown.code(), swapped.code());
    let (at_tutor, _one, _other, at_parent) = tokio::join!(
        shown.joined(),
        middle.join(&copied, Vec::new()),
        swapped.joined(),
        parent.join(&given, Vec::new()),
    );
    let (at_tutor, at_parent) = (at_tutor.unwrap(), at_parent.unwrap());
    assert_ne!(at_tutor.words, at_parent.words);
    assert_eq!((at_tutor.peer, at_parent.peer), (middle.id(), middle.id()));
}

#[tokio::test]
async fn one_in_the_middle_cannot_stand_in_for_the_offering_device() {
    let (tutor, parent) = two(brisk()).await;
    let (middle, _) = start(3, brisk()).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    // The network sends the parent to another device.
    let diverted = offer.code().at(&middle.addresses());
    let error = parent.join(&diverted, Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::Unreachable { .. }), "{error}");
}

#[tokio::test]
async fn one_in_the_middle_cannot_relay_a_proof_under_its_own_key() {
    let (tutor, parent) = two(brisk()).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    // The parent was shown a code with the relay's key in place of the tutor's: the text
    // names another device, all else is the same.
    let (relay, relay_id, relay_at) = raw::endpoint(9, PAIR).await;
    let swapped = swap_device(&offer.code(), relay_id).at(&relay_at);
    let play = async {
        let from_parent = relay.accept().await.unwrap().await.unwrap();
        let (mut to_parent, mut of_parent) = from_parent.accept_bi().await.unwrap();
        let to_tutor = raw::call(&relay, &tutor, PAIR).await;
        let (mut ask_tutor, mut of_tutor) = to_tutor.open_bi().await.unwrap();
        let (tag, knock) = raw::read(&mut of_parent).await;
        ask_tutor.write_all(&frame(tag, &knock)).await.unwrap();
        let (tag, challenge) = raw::read(&mut of_tutor).await;
        to_parent.write_all(&frame(tag, &challenge)).await.unwrap();
        let (tag, proof) = raw::read(&mut of_parent).await;
        ask_tutor.write_all(&frame(tag, &proof)).await.unwrap();
        assert_eq!(
            close_code(&to_tutor).await,
            17,
            "a wrong secret, as far as it goes"
        );
    };
    let (joined, ()) = tokio::join!(parent.join(&swapped, Vec::new()), play);
    assert!(joined.is_err());
}

#[tokio::test]
async fn either_person_may_refuse() {
    let (tutor, parent) = two(brisk()).await;
    for tutor_refuses in [true, false] {
        let offer = tutor.offer(b"private".to_vec()).unwrap();
        let code = offer.code();
        let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
        let (mut one, mut other) = (here.unwrap(), there.unwrap());
        if !tutor_refuses {
            std::mem::swap(&mut one, &mut other);
        }
        one.refuse();
        let error = other.confirm().await.unwrap_err();
        assert!(matches!(error, PairError::Refused), "{error}");
    }
}

#[tokio::test]
async fn refusing_after_the_other_side_confirmed_hands_nothing_over() {
    let (tutor, parent) = two(brisk()).await;
    let offer = tutor.offer(b"private".to_vec()).unwrap();
    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
    let (here, there) = (here.unwrap(), there.unwrap());
    let (outcome, ()) = tokio::join!(there.confirm(), async {
        tokio::time::sleep(Duration::from_millis(100)).await;
        drop(here);
    });
    let error = outcome.unwrap_err();
    assert!(matches!(error, PairError::Refused), "{error}");
}

#[tokio::test]
async fn nothing_on_offer_is_said_so() {
    let (tutor, parent) = two(brisk()).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    let code = offer.code();
    offer.cancel();
    assert!(matches!(offer.joined().await, Err(PairError::Cancelled)));
    let error = parent.join(&code, Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::NoOffer), "{error}");
    let own = parent.offer(Vec::new()).unwrap().code();
    let error = parent.join(&own, Vec::new()).await.unwrap_err();
    assert!(matches!(error, PairError::OwnCode), "{error}");
    let large = tutor.offer(vec![0; Limits::ABOUT_BYTES + 1]).unwrap_err();
    assert!(
        matches!(large, PairError::AboutTooLarge { bytes: 16_385 }),
        "{large}"
    );
}

#[tokio::test]
async fn whoever_knocks_wrongly_neither_uses_nor_ends_the_offer() {
    let (tutor, parent) = two(brisk()).await;
    let offer = tutor.offer(Vec::new()).unwrap();
    let (raw, _, _) = raw::endpoint(9, PAIR).await;
    let newer = frame(7, &[varint(2), vec![0; 40]].concat());
    for (bytes, code) in [
        (vec![0; 40], 3),
        (vec![255, 255, 255, 255, 7], 3),
        (newer, 2),
        (frame(99, b""), 2),
    ] {
        let connection = raw::call(&raw, &tutor, PAIR).await;
        let (mut send, _recv) = connection.open_bi().await.unwrap();
        let _ = send.write_all(&bytes).await;
        assert_eq!(close_code(&connection).await, code);
    }
    // A nonce other than the one committed to.
    let connection = raw::call(&raw, &tutor, PAIR).await;
    let (mut send, mut recv) = connection.open_bi().await.unwrap();
    let knock = frame(7, &[varint(1), vec![5; 32]].concat());
    send.write_all(&knock).await.unwrap();
    assert_eq!(raw::read(&mut recv).await.0, 8);
    send.write_all(&frame(9, &[6; 64])).await.unwrap();
    assert_eq!(close_code(&connection).await, 3);

    let code = offer.code();
    let (here, there) = tokio::join!(offer.joined(), parent.join(&code, Vec::new()));
    assert_eq!(here.unwrap().words, there.unwrap().words);
}

#[tokio::test]
async fn a_device_without_the_secret_is_found_out_even_under_the_right_key() {
    let (tutor, parent) = two(brisk()).await;
    let code = tutor.offer(Vec::new()).unwrap().code();
    tutor.close().await;
    let (raw, id, addresses) = raw::endpoint(1, PAIR).await;
    assert_eq!(id, code.device());
    let code = code.at(&addresses);
    let play = async {
        let connection = raw.accept().await.unwrap().await.unwrap();
        let (mut send, mut recv) = connection.accept_bi().await.unwrap();
        raw::read(&mut recv).await;
        send.write_all(&frame(8, &[1; 32])).await.unwrap();
        raw::read(&mut recv).await;
        send.write_all(&frame(10, &[2; 32])).await.unwrap();
        assert_eq!(close_code(&connection).await, 21);
    };
    let (joined, ()) = tokio::join!(parent.join(&code, Vec::new()), play);
    assert!(matches!(joined, Err(PairError::Unproven)));
}
