//! Files and pages that a pupil's page never is. Each ends with a reading or with the right error;
//! none ends the program. What they cost is shown by `cargo xtask bench`.

mod pages;

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use metrics::{DecodeError, Page, PageError, decode, find_page, fitness, read_page};
use units::{Expectation, Fitness, LetterModel, MeasureName, Mm, Outcome, Paper, Reading, Ruling};

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/bad")
}

fn on_a5(text: &[&str]) -> Expectation {
    Expectation {
        paper: Paper::A5,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
        model: LetterModel::unjoined(),
        text: Some(text.iter().map(|line| (*line).to_owned()).collect()),
        minutes: None,
        amendments: Vec::new(),
    }
}

const WRITTEN: [&str; 3] = [
    "a small brown hen ran down",
    "the long lane and met",
    "an old dog on the way home",
];

/// Every measure once and in order, every number one.
fn assert_whole(reading: &Reading, what: &str) {
    let names: Vec<MeasureName> = reading.measures.iter().map(|m| m.name).collect();
    assert_eq!(names, MeasureName::ALL, "{what}");
    for measure in &reading.measures {
        if let Outcome::Measured {
            value, se, spread, ..
        } = &measure.outcome
        {
            let sound = value.is_finite() && se.is_finite() && *se >= 0.0;
            let spread = spread.is_none_or(|s| s.is_finite() && s >= 0.0);
            assert!(sound && spread, "{what}: {measure:?}");
        }
    }
}

/// What a file comes to, in the words of `outcomes.json`.
fn outcome(bytes: &[u8]) -> &'static str {
    let photo = match decode(bytes) {
        Ok(photo) => photo,
        Err(error) => {
            return match error {
                DecodeError::TooManyBytes { .. } => "too long",
                DecodeError::Heic => "heic",
                DecodeError::OtherFormat => "another format",
                DecodeError::NotAnImage => "not a picture",
                DecodeError::TooLarge { .. } => "too large",
                DecodeError::TooSmall { .. } => "too small",
                DecodeError::Truncated => "cut short",
                DecodeError::Damaged(_) => "damaged",
            };
        }
    };
    let expect = on_a5(&WRITTEN);
    match find_page(&photo, &expect) {
        Err(PageError::NoPaper) => "no sheet",
        Err(PageError::NoSheetShape) => unreachable!("no corners were told"),
        Ok(page) => {
            let reading = read_page(&page, &expect, fitness(&page));
            assert_whole(&reading, "a file");
            let shorts = reading.measures.iter().any(|m| {
                m.name == MeasureName::XHeight && matches!(m.outcome, Outcome::Measured { .. })
            });
            if shorts {
                "reading"
            } else {
                "nothing measured"
            }
        }
    }
}

#[test]
fn every_kept_file_comes_to_what_is_written_beside_it() {
    let text = fs::read_to_string(folder().join("outcomes.json")).expect("outcomes are there");
    let expected: BTreeMap<String, String> = serde_json::from_str(&text).expect("file: outcome");
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder()).expect("the folder is there") {
        let path = entry.expect("can be listed").path();
        let name = path
            .file_name()
            .expect("has a name")
            .to_string_lossy()
            .into_owned();
        if name != "outcomes.json" {
            let bytes = fs::read(&path).expect("can be read");
            found.insert(name, outcome(&bytes).to_owned());
        }
    }
    assert_eq!(found, expected);
}

/// The files that can be read, to be spoilt.
fn good_files() -> Vec<(&'static str, Vec<u8>)> {
    [
        "plain.jpg",
        "progressive.jpg",
        "four-inks.jpg",
        "palette.png",
        "lossy.webp",
        "moving.webp",
    ]
    .into_iter()
    .map(|name| {
        (
            name,
            fs::read(folder().join(name)).expect("the file is there"),
        )
    })
    .collect()
}

#[test]
fn a_file_cut_anywhere_is_refused_and_said_to_be_cut() {
    for (name, whole) in good_files() {
        let lengths = (0..24).chain((1..24).map(|k| whole.len() * k / 24)).chain([
            whole.len() - 3,
            whole.len() - 2,
            whole.len() - 1,
        ]);
        for length in lengths {
            let said = decode(&whole[..length]).err();
            // A signature alone is too little to tell a picture by.
            let right = match said {
                Some(DecodeError::Truncated) => true,
                Some(DecodeError::NotAnImage) => length < 24,
                // A stretch of WebP that ends early is not always told from one that is wrong.
                Some(DecodeError::Damaged(_)) => name.ends_with(".webp"),
                // A PNG's end mark, the last bits of a WebP and the later frames of a moving picture
                // are not needed.
                None => match name.rsplit('.').next() {
                    Some("png") => length + 16 > whole.len(),
                    Some("webp") => length + 4 > whole.len() || name == "moving.webp",
                    _ => false,
                },
                _ => false,
            };
            assert!(right, "{name} cut to {length} of {}: {said:?}", whole.len());
        }
    }
}

#[test]
fn a_file_with_wrong_bytes_never_ends_the_program() {
    // SplitMix64's step on a counter: without pattern, and the same every time.
    let chance = |n: u64| {
        let word = n.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        (word ^ (word >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 16
    };
    let mut refused = 0;
    for (name, whole) in good_files() {
        for round in 0..60 {
            let mut bytes = whole.clone();
            for k in 0..1 + round % 7 {
                // The first bytes say the most: half of the wrong ones are among them.
                let reach = if k % 2 == 0 { 400 } else { bytes.len() as u64 };
                let at = chance(round * 31 + k + name.len() as u64) % reach;
                bytes[at as usize] = chance(round * 57 + k) as u8;
            }
            refused += usize::from(decode(&bytes).is_err());
        }
    }
    assert!(refused > 100, "the spoilt files were not spoilt: {refused}");
}

#[test]
fn the_worst_pages_end_with_a_reading() {
    let text: Vec<String> = WRITTEN.iter().map(|line| (*line).to_owned()).collect();
    for bad in pages::ALL {
        for text in [None, Some(text.clone())] {
            let page = bad.page(pages::SMALL);
            let nothing = Fitness { checks: Vec::new() };
            let reading = read_page(&page, &pages::expectation(text), nothing);
            assert_whole(&reading, bad.name);
        }
    }
}

#[test]
fn pages_without_writing_measure_nothing() {
    let blank = ["black", "white", "only rules", "rules at every millimetre"];
    for bad in pages::ALL.iter().filter(|bad| blank.contains(&bad.name)) {
        let page = bad.page(pages::SMALL);
        let nothing = Fitness { checks: Vec::new() };
        let reading = read_page(&page, &pages::expectation(None), nothing);
        let measured: Vec<_> = reading
            .measures
            .iter()
            .filter(|m| matches!(m.outcome, Outcome::Measured { .. }))
            .collect();
        assert!(measured.is_empty(), "{}: {measured:?}", bad.name);
    }
}

#[test]
fn photographs_of_the_worst_pages_end_with_a_reading_or_no_sheet() {
    for bad in pages::ALL {
        for photo in [bad.photo(pages::SMALL), bad.close(pages::SMALL)] {
            let expect = pages::expectation(None);
            if let Ok(page) = find_page(&photo, &expect) {
                let reading = read_page(&page, &expect, fitness(&page));
                assert_whole(&reading, bad.name);
            }
        }
    }
}

fn grey_page(width: u32, height: u32) -> Page {
    pages::page(image::GrayImage::from_fn(width, height, |x, y| {
        image::Luma([if (x / 5 + y / 7) % 3 == 0 { 70 } else { 220 }])
    }))
}

#[test]
fn slips_of_paper_of_any_shape_end_with_a_reading() {
    for (width, height) in [
        (1, 1),
        (1, 4000),
        (4000, 1),
        (2, 2),
        (40, 9000),
        (9000, 40),
        (17, 23),
    ] {
        let page = grey_page(width, height);
        let checked = fitness(&page);
        let reading = read_page(&page, &pages::expectation(None), checked);
        assert_whole(&reading, &format!("{width} × {height}"));
    }
}

#[test]
fn a_text_that_is_not_on_the_page_ends_with_a_reading() {
    let page = pages::page(
        image::open(folder().join("plain.jpg"))
            .expect("decodes")
            .to_luma8(),
    );
    for text in [
        vec![],
        vec![String::new()],
        vec![" ".repeat(3000)],
        vec!["\u{0}\u{fffd}\u{202e} ﷽ 𝄞 e\u{301}".to_owned(); 40],
        vec!["o".repeat(5000)],
        vec!["o ".repeat(2500)],
        vec!["a".to_owned(); 3000],
    ] {
        let nothing = Fitness { checks: Vec::new() };
        let what = format!("{} lines", text.len());
        let reading = read_page(&page, &pages::expectation(Some(text)), nothing);
        assert_whole(&reading, &what);
    }
}
