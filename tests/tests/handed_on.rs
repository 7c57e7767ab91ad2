//! Corrections as training data: all that was put right about letters, and nothing about whose they are.

use app::App;
use app::api::{AddPupil, Amend, ExportAmendments, OfPage};
use app::units::{
    Amendment, BoxMm, FaultKind, JoinVerdict, Letter, LetterModel, Mm, Profile, PupilId,
};
use pothook_tests::{KnownPage, kept_page, parent, tutor};
use serde_json::Value;

fn exported(desk: &App, pupils: Vec<PupilId>) -> (String, Value) {
    let file = desk.export_amendments(ExportAmendments { pupils }).unwrap();
    assert_eq!(file.name, "pothook-corrections.json");
    let value = serde_json::from_str(&file.text).expect("JSON");
    (file.text, value)
}

fn grey(crop: &Value) -> image::GrayImage {
    let png = from_base64(crop.as_str().unwrap());
    let picture = image::load_from_memory_with_format(&png, image::ImageFormat::Png).unwrap();
    assert_eq!(picture.color(), image::ColorType::L8);
    picture.into_luma8()
}

/// After RFC 4648, section 4.
fn from_base64(text: &str) -> Vec<u8> {
    let digit = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        b'/' => 63,
        other => panic!("{other} is no digit"),
    };
    let digits: Vec<u8> = text.trim_end_matches('=').bytes().map(digit).collect();
    let quads = digits.chunks(4).flat_map(|quad| {
        let bits = quad
            .iter()
            .fold(0_u32, |bits, digit| bits << 6 | u32::from(*digit));
        let bits = bits << (6 * (4 - quad.len()));
        bits.to_be_bytes()[1..quad.len()].to_vec()
    });
    quads.collect()
}

fn sure_letters(desk: &App, of: OfPage) -> Vec<Letter> {
    let letters = desk.page(of).unwrap().reading.unwrap().letters;
    let small = |letter: &Letter| letter.char.is_some_and(char::is_lowercase);
    let sure = |letter: &Letter| small(letter) && letter.confidence.0 > 0.7;
    letters.into_iter().filter(sure).collect()
}

fn amend(desk: &App, of: OfPage, what: Amendment) {
    let OfPage { pupil, page } = of;
    desk.amend(Amend { pupil, page, what }).unwrap();
}

fn reads(letter: &Letter, as_meant: bool) -> Amendment {
    Amendment::Reads {
        at: letter.bounds,
        letter: letter.char.unwrap(),
        as_meant,
    }
}

fn fault(letter: &Letter, fault: FaultKind, there: bool) -> Amendment {
    Amendment::Fault {
        at: letter.bounds,
        letter: letter.char.unwrap(),
        fault,
        there,
    }
}

fn ink_is(letter: &Letter, bounds: Option<BoxMm>) -> Amendment {
    Amendment::Letter {
        at: letter.bounds,
        letter: letter.char.unwrap(),
        bounds,
    }
}

/// The letter with its right edge farther out, millimetres.
fn wider(letter: &Letter, by: f64) -> BoxMm {
    BoxMm {
        x1: Mm(letter.bounds.x1.0 + by),
        ..letter.bounds
    }
}

fn put_right(desk: &App, of: OfPage) -> Vec<Letter> {
    let mut letters = sure_letters(desk, of);
    letters.truncate(4);
    let [a, b, c, d] = &letters[..] else {
        panic!("four sure letters");
    };
    let moved = BoxMm {
        x0: Mm(a.bounds.x0.0 + 0.5),
        ..a.bounds
    };
    for what in [
        ink_is(a, Some(moved)),
        fault(b, FaultKind::NotTall, true),
        reads(c, false),
        Amendment::Join {
            at: d.bounds,
            letter: d.char.unwrap(),
            verdict: JoinVerdict::Missing,
        },
        Amendment::Correction {
            at: a.bounds,
            kind: None,
        },
    ] {
        amend(desk, of, what);
    }
    letters
}

#[test]
fn corrections_of_letters_are_handed_on_with_their_crops_and_no_more() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let other = desk
        .add_pupil(AddPupil {
            profile: known.profile("Robin"),
        })
        .unwrap()
        .pupil;
    let letters = put_right(&desk, of);
    let view = desk.page(of).unwrap();

    let (text, file) = exported(&desk, vec![of.pupil, other, of.pupil]);
    assert_eq!(file["format"], "pothook corrections");
    assert_eq!(file["version"], 1);
    let items = file["items"].as_array().unwrap();
    assert_eq!(
        items.len(),
        4,
        "a correction of the pupil's own is no letter's"
    );
    let reading = view.reading.as_ref().unwrap();
    for (about, letter) in ["letter", "fault", "reads", "join"].iter().zip(&letters) {
        let item = items.iter().find(|item| item["about"] == *about).unwrap();
        assert_eq!(item["letter"], letter.char.unwrap().to_string());
        assert_eq!(item["joined"], false);
        assert_eq!(item["engine"], reading.engine);
        assert_eq!(item["pxPerMm"], reading.frame.px_per_mm);
        let x_height = item["xHeightMm"].as_f64().unwrap();
        assert!((1.0..6.0).contains(&x_height), "{x_height}");
        // The letter lies within its crop, a margin round it, and it is as large as on the page.
        let crop = grey(&item["crop"]);
        let place: Vec<f64> = item["placePx"]
            .as_array()
            .unwrap()
            .iter()
            .map(|edge| edge.as_f64().unwrap())
            .collect();
        let [x0, y0, x1, y1] = place[..] else {
            panic!("four edges")
        };
        assert!(x0 > 0.0 && y0 > 0.0);
        assert!(x1 < f64::from(crop.width()) && y1 < f64::from(crop.height()));
        let width = (letter.bounds.x1.0 - letter.bounds.x0.0) * reading.frame.px_per_mm;
        assert!((x1 - x0 - width).abs() < 0.2, "{about}");
        let keys: Vec<&str> = item
            .as_object()
            .unwrap()
            .keys()
            .map(String::as_str)
            .collect();
        let known = [
            "about",
            "asMeant",
            "crop",
            "engine",
            "fault",
            "inkPx",
            "joined",
            "letter",
            "placePx",
            "pxPerMm",
            "there",
            "verdict",
            "xHeightMm",
        ];
        assert!(keys.iter().all(|key| known.contains(key)), "{keys:?}");
    }
    let moved = items.iter().find(|item| item["about"] == "letter").unwrap();
    let step = moved["inkPx"][0].as_f64().unwrap() - moved["placePx"][0].as_f64().unwrap();
    assert!((step - 0.5 * reading.frame.px_per_mm).abs() < 0.2);

    // Whose it is, when it was and what was written stand nowhere in it. (Crops are left out: in
    // base64 any four letters may come up.)
    let mut bare = file.clone();
    for item in bare["items"].as_array_mut().unwrap() {
        item.as_object_mut().unwrap().remove("crop");
    }
    let bare = bare.to_string();
    let record = &view.record;
    let mut secrets = vec![
        "Wren".to_owned(),
        "Robin".to_owned(),
        "Study".to_owned(),
        of.pupil.to_string(),
        of.page.to_string(),
        record.picture.to_string(),
        record.added_by.to_string(),
        record.written_on.to_string(),
        record.written_on.0.to_string(),
        record.model.name.clone(),
    ];
    secrets.extend(record.task.map(|task| task.to_string()));
    for reading in &record.readings {
        secrets.extend([reading.id.to_string(), reading.detail.to_string()]);
        secrets.push(reading.made_at.0.to_string());
    }
    for amendment in &view.amendments {
        secrets.extend([amendment.id.to_string(), amendment.by.to_string()]);
        secrets.push(amendment.made_at.0.to_string());
    }
    let words = record
        .text
        .iter()
        .flatten()
        .flat_map(|line| line.split(' '));
    secrets.extend(words.filter(|word| word.len() > 4).map(str::to_owned));
    assert!(secrets.len() > 30);
    for secret in secrets {
        assert!(!bare.contains(&secret), "{secret} is told");
    }
    // No metadata in the crops either.
    for item in items {
        let png = from_base64(item["crop"].as_str().unwrap());
        for chunk in [&b"tEXt"[..], b"iTXt", b"zTXt", b"eXIf", b"tIME"] {
            assert!(!png.windows(4).any(|four| four == chunk));
        }
    }
    let (same, _) = exported(&desk, vec![other, of.pupil]);
    assert_eq!(
        same, text,
        "the same bytes in whatever order they are named"
    );
    let (_, none) = exported(&desk, vec![other]);
    assert_eq!(none["items"], Value::Array(vec![]));
}

#[test]
fn a_box_over_more_than_a_letter_is_not_handed_on() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let letters = sure_letters(&desk, of);
    let reading = desk.page(of).unwrap().reading.unwrap();
    let x_height = reading.lines[letters[0].line].x_height.unwrap().0;
    amend(
        &desk,
        of,
        ink_is(&letters[0], Some(wider(&letters[0], 6.0 * x_height))),
    );
    let tall = BoxMm {
        y1: Mm(letters[1].bounds.y0.0 + 6.0 * x_height),
        ..letters[1].bounds
    };
    amend(&desk, of, ink_is(&letters[1], Some(tall)));
    let (_, file) = exported(&desk, vec![of.pupil]);
    assert_eq!(file["items"], Value::Array(vec![]));

    amend(
        &desk,
        of,
        ink_is(&letters[9], Some(wider(&letters[9], 0.5 * x_height))),
    );
    let (_, file) = exported(&desk, vec![of.pupil]);
    let items = file["items"].as_array().unwrap();
    assert_eq!(items.len(), 1);
    let crop = grey(&items[0]["crop"]);
    let most = 6.0 * items[0]["xHeightMm"].as_f64().unwrap() * reading.frame.px_per_mm;
    assert!(f64::from(crop.width().max(crop.height())) <= most);
}

#[test]
fn only_the_last_word_on_a_letter_is_handed_on() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let [a, b, c, ..] = &sure_letters(&desk, of)[..] else {
        panic!("three sure letters");
    };
    for what in [
        fault(a, FaultKind::Open, true),
        fault(a, FaultKind::Apart, true),
        fault(a, FaultKind::Open, false),
        // To read as another letter and not to read as meant are the same.
        fault(a, FaultKind::ReadsAsOther, true),
        reads(a, true),
        ink_is(b, Some(wider(b, 0.3))),
        ink_is(b, Some(wider(b, 0.5))),
        fault(b, FaultKind::NotTall, true),
        fault(c, FaultKind::NotTall, true),
        reads(c, true),
        // What is no letter has no form.
        ink_is(c, None),
    ] {
        amend(&desk, of, what);
    }
    let (_, file) = exported(&desk, vec![of.pupil]);
    let mut said: Vec<String> = file["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| {
            let of = |key: &str| item.get(key).map_or(String::new(), Value::to_string);
            let what = match item["about"].as_str().unwrap() {
                "letter" => format!("ink {}", !item["inkPx"].is_null()),
                "fault" => format!("fault {} {}", of("fault"), of("there")),
                _ => format!("reads {}", of("asMeant")),
            };
            format!("{} {what}", item["letter"].as_str().unwrap())
        })
        .collect();
    said.sort();
    let [a, b, c] = [a, b, c].map(|letter| letter.char.unwrap());
    let mut last = vec![
        format!("{a} fault \"open\" false"),
        format!("{a} fault \"apart\" true"),
        format!("{a} reads true"),
        format!("{b} ink true"),
        format!("{b} fault \"notTall\" true"),
        format!("{c} ink false"),
    ];
    last.sort();
    assert_eq!(said, last);
    let items = file["items"].as_array().unwrap();
    let ink = items.iter().find(|item| item["inkPx"].is_array()).unwrap();
    let step = ink["inkPx"][2].as_f64().unwrap() - ink["placePx"][2].as_f64().unwrap();
    let k = ink["pxPerMm"].as_f64().unwrap();
    assert!((step - 0.5 * k).abs() < 0.2, "the later box");
}

#[test]
fn what_no_letter_of_the_newest_reading_answers_to_stays_here() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let letters = sure_letters(&desk, of);
    amend(&desk, of, fault(&letters[0], FaultKind::NotTall, true));
    amend(
        &desk,
        of,
        ink_is(&letters[3], Some(wider(&letters[3], 0.3))),
    );
    let count = |desk: &App| {
        let (_, file) = exported(desk, vec![of.pupil]);
        let items = file["items"].as_array().unwrap().iter();
        let about: Vec<String> = items.map(|item| item["about"].to_string()).collect();
        about
    };
    assert_eq!(count(&desk).len(), 2);
    // With the lines of another text no letter is told, and only a person's own box still stands.
    let mut text = known.text.clone().unwrap();
    text.reverse();
    desk.set_text(app::api::SetText {
        pupil: of.pupil,
        page: of.page,
        text,
    })
    .unwrap();
    assert_eq!(count(&desk), ["\"letter\""]);
}

#[test]
fn only_named_pupils_and_only_from_the_tutors_device() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let code = |app: &App, pupils| {
        let refused = app.export_amendments(ExportAmendments { pupils });
        refused.unwrap_err().code
    };
    assert_eq!(code(&desk, vec![]), "nobody-chosen");
    assert_eq!(code(&desk, vec![PupilId([5; 16])]), "no-such-pupil");
    let home = parent(&folder.path().join("p"));
    assert_eq!(code(&home, vec![PupilId([5; 16])]), "other-side");
}

#[test]
fn an_own_models_name_stays_here_too() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let mut own = LetterModel::part_joined();
    own.name = "Hollow Lane School".into();
    let profile = Profile {
        model: own,
        ..known.profile("Wren")
    };
    let pupil = desk.add_pupil(AddPupil { profile }).unwrap().pupil;
    let about = app::api::StagePhoto {
        pupil,
        task: None,
        kind: None,
        written_on: None,
    };
    let staged = desk.stage_photo(&photo, about).unwrap();
    let kept = desk.keep_page(app::api::KeepPage {
        handle: staged.handle,
        despite: true,
    });
    let page = kept.unwrap().page;
    desk.set_text(app::api::SetText {
        pupil,
        page,
        text: known.text.unwrap(),
    })
    .unwrap();
    let of = OfPage { pupil, page };
    let letter = sure_letters(&desk, of).swap_remove(0);
    amend(&desk, of, reads(&letter, true));
    let (text, file) = exported(&desk, vec![pupil]);
    assert_eq!(file["items"][0]["joined"], true);
    assert!(!text.contains("Hollow"));
}
