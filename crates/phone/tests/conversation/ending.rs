//! How a visit ends, and what is left of it.

use std::time::Duration;

use serde_json::{Value, json};

use crate::phone::Phone;
use crate::scene::{self, Scene};
use crate::wire;

#[tokio::test(flavor = "multi_thread")]
async fn it_ends_when_its_time_is_up() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    scene.pass(Duration::from_secs(14 * 60));
    phone.done("week", json!({}));
    scene.pass(Duration::from_secs(14 * 60));
    phone.done("look", json!({}));
    scene.pass(Duration::from_secs(60));
    scene.closes_within(Duration::from_secs(5)).await;
    assert_eq!(scene.shown()["stage"], "ended");
    assert_eq!(scene.shown()["ended"], "expired");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_not_kept_is_dropped_at_the_end() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let (looked, _) = phone.photographs(&Value::Null, &scene.photo);
    let handle = looked["handle"].as_str().unwrap().to_owned();
    let app = scene.app.clone();
    assert!(app.staged_picture(&handle).is_some());
    let url = scene.url();
    scene.open.close().await;
    assert!(app.staged_picture(&handle).is_none());
    assert!(
        wire::refused(&url),
        "the port is closed when closing returns"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn dropping_it_closes_the_port() {
    let scene = Scene::new().await;
    let url = scene.url();
    assert!(!wire::refused(&url));
    drop(scene.open);
    let closed = || wire::refused(&url);
    assert!(scene::soon(Duration::from_secs(5), closed).await);
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_not_opened_for_nobody_or_everywhere() {
    let scene = Scene::new().await;
    let open = |pupil, address: &str| {
        let wanted = ::phone::Wanted {
            pupil,
            address: Some(address.parse().unwrap()),
        };
        ::phone::open(scene.app.clone(), wanted)
    };
    let nobody = app::units::PupilId([7; 16]);
    assert_eq!(
        open(nobody, "127.0.0.1").await.err().unwrap().code,
        "no-such-pupil"
    );
    assert_eq!(
        open(scene.pupil, "0.0.0.0").await.err().unwrap().code,
        "not-one-address"
    );
    // An address of the documentation's network (RFC 5737), which no computer has.
    assert_eq!(
        open(scene.pupil, "198.51.100.7").await.err().unwrap().code,
        "address-unusable"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn the_switch_serves_one_at_a_time() {
    let scene = Scene::new().await;
    let switch = ::phone::Switch::default();
    assert!(
        switch.standing().await.open.is_none(),
        "off until it is switched on"
    );
    let wanted = ::phone::Wanted {
        pupil: scene.pupil,
        address: Some("127.0.0.1".parse().unwrap()),
    };
    let first = switch
        .open(scene.app.clone(), wanted)
        .await
        .unwrap()
        .open
        .unwrap();
    let second = switch
        .open(scene.app.clone(), wanted)
        .await
        .unwrap()
        .open
        .unwrap();
    assert!(wire::refused(&first.url) && !wire::refused(&second.url));
    assert!(second.qr_svg.contains("<svg"));
    assert!(switch.close().await.open.is_none());
    assert!(wire::refused(&second.url));
}
