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

fn put_right(desk: &App, of: OfPage) -> Vec<Letter> {
    let reading = desk.page(of).unwrap().reading.unwrap();
    let letters: Vec<Letter> = reading
        .letters
        .iter()
        .filter(|letter| letter.char.is_some_and(char::is_lowercase))
        .filter(|letter| letter.confidence.0 > 0.7)
        .take(4)
        .cloned()
        .collect();
    let [a, b, c, d] = &letters[..] else {
        panic!("four sure letters");
    };
    let moved = BoxMm {
        x0: Mm(a.bounds.x0.0 + 0.5),
        ..a.bounds
    };
    for what in [
        Amendment::Letter {
            at: a.bounds,
            letter: a.char.unwrap(),
            bounds: Some(moved),
        },
        Amendment::Fault {
            at: b.bounds,
            letter: b.char.unwrap(),
            fault: FaultKind::NotTall,
            there: true,
        },
        Amendment::Reads {
            at: c.bounds,
            letter: c.char.unwrap(),
            as_meant: false,
        },
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
        let OfPage { pupil, page } = of;
        desk.amend(Amend { pupil, page, what }).unwrap();
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
    let what = Amendment::Reads {
        at: BoxMm {
            x0: Mm(40.0),
            y0: Mm(40.0),
            x1: Mm(43.0),
            y1: Mm(43.0),
        },
        letter: 'o',
        as_meant: true,
    };
    desk.amend(Amend { pupil, page, what }).unwrap();
    let (text, file) = exported(&desk, vec![pupil]);
    assert_eq!(file["items"][0]["joined"], true);
    assert!(!text.contains("Hollow"));
}
