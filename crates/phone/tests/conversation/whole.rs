//! From the code to what the page shows, and what of it can be read on the way.

use serde_json::{Value, json};

use crate::phone::Phone;
use crate::scene::{Scene, TRY_THIS, pages};

/// From the code to what the page shows.
#[tokio::test(flavor = "multi_thread")]
async fn a_page_goes_from_the_phone_into_the_book() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    assert_eq!(scene.shown()["stage"], "waiting");
    phone.greets();
    assert_eq!(scene.shown()["stage"], "inUse");

    let week = phone.done("week", json!({}));
    assert_eq!(week["name"], "Nell");
    assert_eq!(week["tryThis"], TRY_THIS);
    assert_eq!(week["tasks"].as_array().unwrap().len(), 1);
    assert_eq!(week["tasks"][0]["answered"], false);
    assert_eq!(week["tasks"][0]["task"]["text"], json!(scene.text));

    let (looked, flat) = phone.photographs(&week["tasks"][0]["task"]["id"], &scene.photo);
    assert_eq!(looked["fit"], true, "{looked}");
    assert_eq!(flat[..3], [0xFF, 0xD8, 0xFF], "a flat page comes with it");
    assert_eq!(scene.pages(), 0, "looking keeps nothing");

    let keep = json!({"handle": looked["handle"], "despite": false});
    let kept = phone.done("keep", keep.clone());
    assert_eq!(
        phone.done("keep", keep),
        kept,
        "asked again, it is the same page"
    );
    assert_eq!(scene.pages(), 1);
    assert_eq!(scene.shown()["pages"], 1);
    assert_eq!(phone.done("week", json!({}))["tasks"][0]["answered"], true);

    let outcome = phone.done("result", kept);
    assert_eq!(outcome["focus"]["aspect"], "gaps");
    assert_eq!(outcome["focus"]["tryThis"], TRY_THIS);
    assert_eq!(outcome["focus"]["verdicts"][0]["verdict"], "tooFewPages");
    assert_eq!(outcome["textFits"], true);
    let figures = outcome["figures"].as_array().unwrap();
    let of = |aspect: &str| {
        figures
            .iter()
            .filter(|figure| figure["aspect"] == aspect)
            .count()
    };
    assert!(of("baseline") > 0 && of("gaps") > 0);
    assert_eq!(
        (of("form"), of("joins")),
        (0, 0),
        "the tutor looks at letters first"
    );
    assert!(
        figures.iter().all(|figure| figure["before"].is_null()),
        "no history"
    );
}

/// All that a listener could record of a visit with a photograph.
#[tokio::test(flavor = "multi_thread")]
async fn nothing_of_a_visit_can_be_read_on_the_way() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let week = phone.done("week", json!({}));
    let (looked, flat) = phone.photographs(&week["tasks"][0]["task"]["id"], &scene.photo);
    let kept = phone.done(
        "keep",
        json!({"handle": looked["handle"], "despite": false}),
    );
    phone.done("result", kept.clone());

    let wire = phone.wire();
    assert!(wire.len() > scene.photo.len() + flat.len());
    let holds = |part: &[u8]| wire.windows(part.len()).any(|window| window == part);
    let mut secrets: Vec<Vec<u8>> = vec![
        b"Nell".to_vec(),
        TRY_THIS.as_bytes().to_vec(),
        b"\"ask\"".to_vec(),
        b"greet".to_vec(),
        b"handle".to_vec(),
        b"\"task\"".to_vec(),
        // The first bytes of a JPEG with a JFIF head (ITU-T T.871), and of one with Exif.
        b"\xFF\xD8\xFF\xE0\x00\x10JFIF".to_vec(),
        b"Exif\0\0".to_vec(),
        looked["handle"].as_str().unwrap().into(),
        kept["page"].as_str().unwrap().into(),
        phone.code_in_text().into(),
    ];
    secrets.extend(scene.text.iter().map(|line| line.clone().into_bytes()));
    for picture in [&scene.photo, &flat] {
        secrets.extend(
            picture
                .chunks_exact(picture.len() / 40)
                .map(|part| part[..16].to_vec()),
        );
    }
    for secret in secrets {
        assert!(
            !holds(&secret),
            "{:?} can be read",
            String::from_utf8_lossy(&secret)
        );
    }
    // Sizes come in steps of 64 KiB, and the head of 29 and the tag of 16 bytes (24 and 16 of an answer).
    for (question, answer) in phone.sizes() {
        assert_eq!((question - 45) % 65_536, 0, "{question}");
        assert_eq!((answer - 40) % 65_536, 0, "{answer}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_whose_answer_was_lost_greets_again() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    phone.greets();
    assert_eq!(phone.done("week", json!({}))["name"], "Nell");
    assert_eq!(scene.shown()["turnedAway"], 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_that_cannot_be_read_says_so_and_the_visit_goes_on() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let heic = std::fs::read(pages().join("../bad/phone.heic")).unwrap();
    for (photo, code) in [
        (heic.as_slice(), "photo-heic"),
        (b"hello", "not-a-photo"),
        (b"", "not-a-photo"),
    ] {
        let told = phone.ask("photo", json!({"task": null}), photo).unwrap();
        assert_eq!(told.json["problem"]["code"], code);
    }
    let (looked, _) = phone.photographs(&Value::Null, &scene.photo);
    phone.done("drop", json!({"handle": looked["handle"]}));
    let keep = json!({"handle": looked["handle"], "despite": true});
    assert_eq!(
        phone.ask("keep", keep, b"").unwrap().json["problem"]["code"],
        "photo-gone"
    );
    assert_eq!(scene.pages(), 0);
}
