//! Whole conversations of a phone with this computer, over a real port. The phone here shares no code with
//! the crate: its sealing is HChaCha20 written out below on top of another library's ChaCha20-Poly1305.

mod phone;
mod scene;
mod wire;

use std::time::Duration;

use phone::Phone;
use scene::{Scene, TRY_THIS, pages};
use serde_json::{Value, json};

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
async fn a_phone_whose_answer_was_lost_greets_again() {
    let scene = Scene::new().await;
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    phone.greets();
    assert_eq!(phone.done("week", json!({}))["name"], "Nell");
    assert_eq!(scene.shown()["turnedAway"], 0);
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
async fn only_the_page_and_its_own_requests_are_let_in() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let port = host.rsplit_once(':').unwrap().1;
    let origin = format!("http://{host}");
    let with = |headers: &[(&str, &str)]| wire::send(&host, "GET / HTTP/1.1", headers, b"").status;
    assert_eq!(with(&[("Host", &host)]), 200);
    assert_eq!(with(&[("Host", &host), ("Origin", &origin)]), 200);
    for other in [
        "evil.example",
        &format!("localhost:{port}"),
        "127.0.0.1",
        "127.0.0.1:1",
        "",
    ] {
        assert_eq!(with(&[("Host", other)]), 403, "host {other}");
    }
    assert_eq!(with(&[("Host", &host), ("Host", "evil.example")]), 403);
    for other in [
        "http://evil.example",
        "null",
        &format!("https://{host}"),
        &format!("{origin}0"),
        "",
    ] {
        assert_eq!(
            with(&[("Host", &host), ("Origin", other)]),
            403,
            "origin {other}"
        );
    }
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let question = phone.sealed("week", json!({}), b"");
    let foreign = [("Host", host.as_str()), ("Origin", "http://evil.example")];
    assert_eq!(
        wire::send(&host, "POST /sealed HTTP/1.1", &foreign, &question).status,
        403
    );
    assert_eq!(
        phone.sends_again(&question).status,
        200,
        "what was turned away was not heard"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn there_is_nothing_but_the_page_and_the_sealed_questions() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    for (request, status) in [
        ("GET / HTTP/1.1", 200),
        ("GET /phone.html HTTP/1.1", 404),
        ("GET /sealed HTTP/1.1", 404),
        ("GET /?x HTTP/1.1", 403),
        ("GET /assets HTTP/1.1", 404),
        ("GET /assets/ HTTP/1.1", 404),
        ("GET /assets/../phone.html HTTP/1.1", 404),
        ("GET /assets/../../../../Cargo.toml HTTP/1.1", 404),
        ("GET /call/pupils HTTP/1.1", 404),
        ("POST /call/pupils HTTP/1.1", 404),
        ("POST / HTTP/1.1", 405),
        ("DELETE /sealed HTTP/1.1", 405),
        ("OPTIONS /sealed HTTP/1.1", 405),
        ("POST /sealed HTTP/1.1", 400),
    ] {
        let answer = wire::send(&host, request, &[("Host", &host)], b"");
        assert_eq!(answer.status, status, "{request}");
        let head = answer.head.to_ascii_lowercase();
        for wanted in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src blob: data:; ",
            "cache-control: no-store",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
        ] {
            assert!(head.contains(wanted), "{request} lacks {wanted}: {head}");
        }
        for never in ["set-cookie", "access-control-allow", "server:"] {
            assert!(!head.contains(never), "{request} has {never}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn sizes_are_bounded_before_anything_is_taken_in() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let says = |length: &str| {
        let headers = [("Host", host.as_str()), ("Content-Length", length)];
        wire::send_as_it_is(&host, "POST /sealed HTTP/1.1", &headers, b"").status
    };
    assert_eq!(
        says("42074158"),
        413,
        "more than 40 MiB and what sealing adds"
    );
    assert_eq!(says("99999999999999"), 413);
    assert_eq!(
        says("1000000"),
        403,
        "no phone has greeted, so no photograph is taken in"
    );
    let chunked = [("Host", host.as_str()), ("Transfer-Encoding", "chunked")];
    let answer = wire::send_as_it_is(
        &host,
        "POST /sealed HTTP/1.1",
        &chunked,
        b"5\r\nabcde\r\n0\r\n\r\n",
    );
    assert_eq!(answer.status, 411);
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let too_large = vec![0; (40 << 20) + 1];
    assert_eq!(
        phone
            .ask("photo", json!({"task": null}), &too_large)
            .unwrap_err(),
        413
    );
    phone.done("look", json!({}));
}

#[tokio::test(flavor = "multi_thread")]
async fn who_asks_too_often_waits() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let asked: Vec<u16> = (0..80)
        .map(|_| wire::send(&host, "GET /none HTTP/1.1", &[("Host", &host)], b"").status)
        .collect();
    assert_eq!(asked[..40], [404; 40]);
    assert!(asked.contains(&429), "{asked:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_bound_to_its_one_address() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let port = host.rsplit_once(':').unwrap().1;
    assert!(host.starts_with("127.0.0.1:"));
    if cfg!(target_os = "linux") {
        // The whole of 127/8 is this machine there (RFC 1122, 3.2.1.3).
        assert!(wire::refused(&format!("http://127.0.0.2:{port}/#")));
    }
}

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
