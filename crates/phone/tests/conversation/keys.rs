//! Keys, numbers and bytes that are not right, and a second phone.

use std::time::Duration;

use serde_json::{Value, json};

use crate::phone::Phone;
use crate::scene::Scene;

#[tokio::test(flavor = "multi_thread")]
async fn a_second_phone_is_refused_and_the_first_is_told() {
    let scene = Scene::new().await;
    let mut first = Phone::scans(&scene.url());
    let mut second = Phone::scans(&scene.url());
    first.greets();
    assert_eq!(second.greeted().unwrap()["problem"]["code"], "code-used");
    let told = first.ask("look", json!({}), b"").unwrap();
    assert_eq!(told.json["pulse"]["turnedAway"], 1);
    assert_eq!(scene.shown()["turnedAway"], 1);
    // The second has no key of the visit, and the code's opens nothing but a greeting.
    assert_eq!(
        second.under_code("week", json!({})).unwrap()["problem"]["code"],
        "not-allowed"
    );
    assert_eq!(first.done("week", json!({}))["name"], "Nell");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_recorded_cannot_be_sent_again() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let (looked, _) = phone.photographs(&Value::Null, &scene.photo);
    phone.done("keep", json!({"handle": looked["handle"], "despite": true}));
    let recorded = phone.questions();
    assert_eq!(recorded.len(), 3);
    for question in recorded {
        assert_eq!(phone.sends_again(&question).status, 409);
    }
    assert_eq!(scene.pages(), 1);
    phone.done("look", json!({}));
}

#[tokio::test(flavor = "multi_thread")]
async fn an_altered_byte_anywhere_is_refused() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let question = phone.sealed("week", json!({}), b"");
    // The number, the nonce, the text, the noughts, the tag. (The first byte says under which key.)
    for at in [2, 12, 40, 60_000, question.len() - 1] {
        let mut bent = question.clone();
        bent[at] ^= 0x10;
        assert_eq!(phone.sends_again(&bent).status, 403, "byte {at}");
    }
    let mut other = question.clone();
    other[0] = 9;
    assert_eq!(phone.sends_again(&other).status, 400);
    assert_eq!(
        phone.sends_again(&question).status,
        200,
        "as it was it passes"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_fits_only_its_question() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let first = phone.sealed("look", json!({}), b"");
    let first_answer = phone.sends_again(&first).body;
    let second = phone.sealed("look", json!({}), b"");
    let second_answer = phone.sends_again(&second).body;
    assert!(phone.opens(&first, &first_answer).is_some());
    assert!(phone.opens(&second, &second_answer).is_some());
    assert!(
        phone.opens(&second, &first_answer).is_none(),
        "an answer kept back"
    );
    let mut bent = second_answer.clone();
    bent[30] ^= 1;
    assert!(phone.opens(&second, &bent).is_none());
}

#[tokio::test(flavor = "multi_thread")]
async fn ten_wrong_keys_close_the_port() {
    let scene = Scene::new().await;
    let mut stranger = Phone::scans(&scene.url_with_another_key());
    for tried in 0..10 {
        assert_eq!(stranger.greeted().unwrap_err(), 403, "try {tried}");
    }
    scene.closes_within(Duration::from_secs(5)).await;
    assert_eq!(scene.shown()["ended"], "wrongKeys");
}
