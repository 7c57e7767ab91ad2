//! Pages drawn stroke by stroke in code, so that every measure is known beforehand.
//! The letters and the writing are of our own making; nothing here comes from outside.

#![allow(clippy::disallowed_methods)]

mod amended;
mod form;
mod heights;
mod joins;
mod pen;
mod text;

use metrics::{Page, read_page};
use pen::{Joins, Sheet, Written};
use proptest::prelude::*;
use units::{Fitness, JoinVerdict, Letter, Measure, MeasureName, Outcome, Reading, WhyNot};

fn read(sheet: &Sheet) -> Reading {
    read_page(&sheet.page(), &sheet.expectation(), unchecked())
}

fn unchecked() -> Fitness {
    Fitness { checks: Vec::new() }
}

fn measure(reading: &Reading, name: MeasureName) -> &Measure {
    let found = reading.measures.iter().find(|m| m.name == name);
    found.expect("every measure is given")
}

fn figure(reading: &Reading, name: MeasureName) -> (f64, f64) {
    match &measure(reading, name).outcome {
        Outcome::Measured { value, se, .. } => (*value, *se),
        other => panic!("{name:?}: {other:?}"),
    }
}

fn value(reading: &Reading, name: MeasureName) -> f64 {
    figure(reading, name).0
}

/// Every letter as written and as found, on a page whose every letter was found.
fn paired<'a>(written: &'a [Written], reading: &'a Reading) -> Vec<(&'a Written, &'a Letter)> {
    let wrote = written.iter().map(|w| Some(w.ch));
    let found = reading.letters.iter().map(|l| l.char);
    assert_eq!(wrote.collect::<Vec<_>>(), found.collect::<Vec<_>>());
    written.iter().zip(&reading.letters).collect()
}

#[test]
fn a_drawn_page_measures_what_was_drawn() {
    let sheet = Sheet::default();
    let reading = read(&sheet);
    let near = |name, drawn: f64, within: f64| {
        let found = value(&reading, name);
        assert!(
            (found - drawn).abs() <= within,
            "{name:?}: {found}, drawn {drawn}"
        );
    };
    near(MeasureName::XHeight, sheet.short_height(), 0.05);
    near(MeasureName::XHeightCv, 0.0, 0.02);
    near(MeasureName::Drift, 0.0, 0.05);
    near(MeasureName::Wander, 0.0, 0.03);
    near(MeasureName::Offset, -sheet.pen / 2.0, 0.06);
    near(MeasureName::OnLine, 1.0, 0.0);
    near(MeasureName::AscenderRatio, sheet.ascender_ratio(), 0.03);
    near(MeasureName::DescenderRatio, sheet.descender_ratio(), 0.03);
    near(MeasureName::Slant, 0.0, 0.3);
    near(MeasureName::WordGap, sheet.word_gap_in_o(), 0.06);
    near(MeasureName::OWidth, sheet.o_width(), 0.06);
    near(MeasureName::Corrections, 0.0, 0.0);
    assert_eq!(reading.lines.len(), sheet.text.len());
    let words: Vec<&str> = reading
        .words
        .iter()
        .filter_map(|w| w.text.as_deref())
        .collect();
    assert_eq!(words.join(" "), sheet.text.join(" "));
}

#[test]
fn every_measure_is_given_once_and_in_order() {
    let reading = read(&Sheet::default());
    let names: Vec<MeasureName> = reading.measures.iter().map(|m| m.name).collect();
    assert_eq!(names, MeasureName::ALL);
}

#[test]
fn without_its_text_a_page_is_still_measured() {
    let sheet = Sheet {
        text_known: false,
        ..Sheet::default()
    };
    let reading = read(&sheet);
    let height = value(&reading, MeasureName::XHeight);
    assert!((height - sheet.short_height()).abs() < 0.06, "{height}");
    assert!(value(&reading, MeasureName::Drift).abs() < 0.1);
    assert!((value(&reading, MeasureName::AscenderRatio) - sheet.ascender_ratio()).abs() < 0.05);
    assert!((value(&reading, MeasureName::WordGap) - sheet.word_gap_in_o()).abs() < 0.2);
}

#[test]
fn the_known_pitch_of_the_ruling_sets_the_scale() {
    let sheet = Sheet {
        scale_error: 1.02,
        ..Sheet::default()
    };
    let reading = read(&sheet);
    let height = value(&reading, MeasureName::XHeight);
    assert!((height - sheet.short_height()).abs() < 0.05, "{height}");
    assert_eq!(reading.frame.scale_source, units::ScaleSource::Ruling);
}

#[test]
fn a_word_struck_through_once_is_found_and_kept_apart() {
    let sheet = Sheet {
        strike: Some((1, 1)),
        ..Sheet::default()
    };
    let reading = read(&sheet);
    let kinds: Vec<_> = reading.corrections.iter().map(|c| c.kind).collect();
    assert_eq!(kinds, [units::CorrectionKind::StruckOnce]);
    assert_eq!(reading.words.iter().filter(|w| w.struck).count(), 1);
}

#[test]
fn a_bowl_left_open_is_told_from_a_closed_one() {
    for open in [false, true] {
        let reading = read(&Sheet {
            open,
            ..Sheet::default()
        });
        let bowls: Vec<bool> = reading
            .letters
            .iter()
            .filter_map(|l| l.bowl.map(|b| b.open))
            .collect();
        // Every o, a and d of the four lines; a p is not judged.
        assert_eq!(bowls.len(), 24, "{open}");
        assert!(
            bowls.iter().all(|found| *found == open),
            "{open}: {bowls:?}"
        );
    }
}

/// How many joins came to each verdict, and how many of those leave an o.
fn verdicts(joins: Joins) -> [(usize, usize); 3] {
    let reading = read(&Sheet {
        joins,
        ..Sheet::default()
    });
    [
        JoinVerdict::Joined,
        JoinVerdict::Missing,
        JoinVerdict::WrongHeight,
    ]
    .map(|verdict| {
        let those = reading.joins.iter().filter(|join| join.verdict == verdict);
        let from_o = those
            .clone()
            .filter(|j| reading.letters[j.left].char == Some('o'));
        (those.count(), from_o.count())
    })
}

#[test]
fn joins_are_judged_as_they_were_drawn() {
    assert_eq!(verdicts(Joins::Unjoined), [(0, 0); 3]);
    let [sound, missing, wrong] = verdicts(Joins::Sound);
    println!("sound {sound:?}, missing {missing:?}, wrong height {wrong:?}");
    assert!(sound.0 >= 20 && missing.0 == 0 && wrong.0 == 0);
    let [_, missing, wrong] = verdicts(Joins::Dipping);
    println!("dipping: missing {missing:?}, wrong height {wrong:?}");
    assert!(missing.0 == 0 && wrong.0 == wrong.1 && wrong.1 >= 3);
    let [sound, missing, wrong] = verdicts(Joins::Left);
    println!("left: sound {sound:?}, missing {missing:?}, wrong height {wrong:?}");
    assert!(sound.0 == 0 && missing.0 >= 20 && wrong.0 == 0);
}

#[test]
fn the_same_page_gives_the_same_bytes() {
    let sheet = Sheet {
        slant: 9.0,
        wobble: 0.2,
        ..Sheet::default()
    };
    let bytes = || serde_json::to_vec(&read(&sheet)).expect("a reading can be written");
    assert_eq!(bytes(), bytes());
}

#[test]
fn on_plain_paper_there_is_no_rule_to_stand_on() {
    let reading = read(&Sheet {
        pitch: None,
        ..Sheet::default()
    });
    let offset = reading
        .measures
        .iter()
        .find(|m| m.name == MeasureName::Offset);
    assert_eq!(
        offset.map(|m| m.outcome.clone()),
        Some(Outcome::NotMeasured {
            because: WhyNot::NoRuling
        })
    );
    assert!(value(&reading, MeasureName::Drift).abs() < 0.1);
}

fn nothing_measured(page: &Page) -> bool {
    let sheet = Sheet::default();
    let reading = read_page(page, &sheet.expectation(), unchecked());
    reading.measures.len() == MeasureName::ALL.len()
        && reading
            .measures
            .iter()
            .all(|m| matches!(m.outcome, Outcome::NotMeasured { .. }))
}

#[test]
fn a_blank_page_says_why_nothing_was_measured() {
    let blank = Sheet {
        text: Vec::new(),
        ..Sheet::default()
    };
    assert!(nothing_measured(&blank.page()));
    let unruled = Sheet {
        pitch: None,
        ..blank
    };
    assert!(nothing_measured(&unruled.page()));
}

#[test]
fn black_pages_and_noise_are_borne() {
    let sheet = Sheet::default();
    assert!(nothing_measured(&sheet.filled(|_, _| 0)));
    assert!(nothing_measured(&sheet.filled(|_, _| 255)));
    // A small linear congruential generator; its figures only need to be without pattern.
    let noise = sheet.filled(|x, y| {
        let mixed = (u64::from(x) << 32 | u64::from(y)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        ((mixed ^ mixed >> 29).wrapping_mul(0xBF58_476D_1CE4_E5B9) >> 56) as u8
    });
    let reading = read_page(&noise, &sheet.expectation(), unchecked());
    assert_eq!(reading.measures.len(), MeasureName::ALL.len());
    for (width, height) in [(1, 1), (3, 700), (700, 3)] {
        let tiny = sheet.cut(width, height);
        assert!(nothing_measured(&tiny));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

    #[test]
    fn turning_the_sheet_changes_no_slant_or_drift(
        turn in -3.0..3.0f64, slant in -15.0..22.0f64, drift in -0.8..0.8f64,
    ) {
        let reading = read(&Sheet { turn, slant, drift, ..Sheet::default() });
        let (found, se) = figure(&reading, MeasureName::Slant);
        prop_assert!((found - slant).abs() < 0.5 + se, "slant {found}, turned {turn}");
        let (found, se) = figure(&reading, MeasureName::Drift);
        prop_assert!((found - drift).abs() < 0.05 + 2.0 * se, "drift {found}, drawn {drift}");
    }

    #[test]
    fn writing_twice_as_large_has_the_same_proportions(slant in -10.0..15.0f64) {
        let small = Sheet { slant, ..Sheet::default() };
        let large = small.enlarged(2.0);
        let (small, large) = (read(&small), read(&large));
        for name in [
            MeasureName::AscenderRatio, MeasureName::DescenderRatio,
            MeasureName::LetterGap, MeasureName::WordGap,
        ] {
            let (a, b) = (value(&small, name), value(&large, name));
            prop_assert!((a - b).abs() < 0.06, "{name:?}: {a} and {b}");
        }
        let (a, b) = (value(&small, MeasureName::XHeight), value(&large, MeasureName::XHeight));
        prop_assert!((b / a - 2.0).abs() < 0.04, "x-heights {a} and {b}");
    }
}
