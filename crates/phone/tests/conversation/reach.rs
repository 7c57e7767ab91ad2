//! What a visit may ask for, and nothing else.

use serde_json::{Value, json};

use crate::phone::Phone;
use crate::scene::Scene;

#[tokio::test(flavor = "multi_thread")]
async fn another_pupil_and_the_past_are_out_of_reach() {
    let scene = Scene::new().await;
    let other = scene.other_pupil();
    let earlier = scene.keeps_a_page(scene.pupil);
    let theirs = scene.keeps_a_page(other.pupil);
    let staged_here = scene.stages(scene.pupil);
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let code = |answer: Value| {
        answer["problem"]["code"]
            .as_str()
            .unwrap_or_default()
            .to_owned()
    };
    let photo = phone
        .ask("photo", json!({"task": other.task}), &scene.photo)
        .unwrap();
    assert_eq!(code(photo.json), "not-this-week");
    for page in [&earlier, &theirs] {
        let told = phone.ask("result", json!({"page": page}), b"").unwrap();
        assert_eq!(code(told.json), "not-allowed");
    }
    let keep = phone
        .ask("keep", json!({"handle": staged_here, "despite": true}), b"")
        .unwrap();
    assert_eq!(code(keep.json), "photo-gone");
    phone.done("drop", json!({"handle": staged_here}));
    assert!(
        scene.app.staged_picture(&staged_here).is_some(),
        "another screen's photograph stays"
    );
    let pupil = json!({"pupil": other.pupil});
    assert_eq!(
        code(phone.ask("week", pupil, b"").unwrap().json),
        "not-allowed"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn whose_photographs_wait_is_not_told_to_a_family() {
    let scene = Scene::new().await;
    let other = scene.other_pupil();
    for _ in 0..4 {
        scene.stages(other.pupil);
    }
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let answer = phone.ask("photo", json!({"task": null}), &scene.photo);
    let problem = answer.unwrap().json["problem"].to_string();
    assert!(problem.contains("enough-waiting"), "{problem}");
    assert!(!problem.contains("Omar"), "{problem}");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_use_cases_themselves_cannot_be_called() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    for verb in [
        "overview",
        "pupils",
        "pupil",
        "page",
        "progress",
        "home",
        "devices",
        "settle",
        "set_text",
        "amend",
        "erase_pupil",
        "back_up",
        "make_carry",
        "export_amendments",
        "keep_page",
        "drop_photo",
        "greet",
    ] {
        let told = phone.ask(verb, json!({}), b"").unwrap();
        assert_eq!(told.json["problem"]["code"], "not-allowed", "{verb}");
        assert!(told.json["done"].is_null(), "{verb}");
    }
}
