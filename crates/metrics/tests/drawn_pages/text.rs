//! A text that is, and one that is not, that of the page.

use metrics::read_page;
use units::{FaultKind, MeasureName, Outcome, Reading, WhyNot};

use crate::pen::Sheet;
use crate::{measure, paired, read, unchecked, value};

fn read_as(sheet: &Sheet, text: &[&str]) -> Reading {
    let mut expect = sheet.expectation();
    expect.text = Some(text.iter().map(|line| (*line).to_owned()).collect());
    read_page(&sheet.page(), &expect, unchecked())
}

/// A page about other things than any text below.
fn sheet() -> Sheet {
    Sheet {
        text: vec![
            "a big brown dog begs",
            "jim was quite a fierce",
            "zebra kept by the dark",
            "queens vex every jog",
        ],
        ..Sheet::default()
    }
}

#[test]
fn the_right_text_fits() {
    let sheet = sheet();
    let (written, reading) = (sheet.written(), read(&sheet));
    paired(&written, &reading);
    let fit = reading.text.expect("a text was told");
    assert!(fit.fits && fit.skipped.is_empty() && fit.extra.is_empty());
    let letters = written.len() as u32;
    assert_eq!((fit.letters, fit.found), (letters, letters));
}

/// Nothing is told from a text that is not the page's; what needs no text is measured all the same.
fn does_not_fit(reading: &Reading) {
    let fit = reading.text.as_ref().expect("a text was told");
    assert!(!fit.fits && fit.skipped.is_empty() && fit.extra.is_empty());
    assert!(reading.letters.iter().all(|letter| letter.char.is_none()));
    assert!(reading.joins.is_empty());
    let because = WhyNot::TextDoesNotFit;
    let formed = &measure(reading, MeasureName::WellFormed).outcome;
    assert_eq!(*formed, Outcome::NotMeasured { because });
    let found = value(reading, MeasureName::XHeight);
    assert!((found - sheet().short_height()).abs() < 0.1, "{found}");
}

#[test]
fn another_text_of_that_length_does_not_fit() {
    let other = [
        "the old man had tea",
        "from a cup of blue tin",
        "his cat lay on a wall",
        "which runs up a hill",
    ];
    does_not_fit(&read_as(&sheet(), &other));
}

#[test]
fn a_text_in_another_alphabet_does_not_fit() {
    let other = [
        "мама мыла окно утром",
        "потом она пошла гулять",
        "кот спал на стене",
        "солнце светило ярко",
    ];
    does_not_fit(&read_as(&sheet(), &other));
}

/// So many words, in one line and each in its own.
fn far_too_long(words: usize) {
    let some = ["stone", "river", "cloud", "meadow", "of"];
    let long: Vec<&str> = some.iter().copied().cycle().take(words).collect();
    does_not_fit(&read_as(&sheet(), &[&long.join(" ")]));
    does_not_fit(&read_as(&sheet(), &long));
}

#[test]
fn a_text_of_hundreds_of_words_does_not_fit() {
    far_too_long(500);
}

#[test]
fn a_text_of_ten_thousand_words_does_not_fit() {
    far_too_long(10_000);
}

#[test]
fn no_text_and_a_text_of_one_word_are_borne() {
    for empty in [&[][..], &[""], &["  ", "\t"]] {
        let reading = read_as(&sheet(), empty);
        assert_eq!(reading.text, None, "{empty:?}");
        let because = WhyNot::NeedsText;
        let formed = &measure(&reading, MeasureName::WellFormed).outcome;
        assert_eq!(*formed, Outcome::NotMeasured { because }, "{empty:?}");
        let found = value(&reading, MeasureName::XHeight);
        assert!((found - sheet().short_height()).abs() < 0.1, "{found}");
    }
    let reading = read_as(&sheet(), &["dog"]);
    let fit = reading.text.as_ref().expect("a text was told");
    assert_eq!((fit.letters, fit.fits), (3, false));
    let found = value(&reading, MeasureName::XHeight);
    assert!((found - sheet().short_height()).abs() < 0.1, "{found}");
}

#[test]
fn letters_left_out_side_by_side_have_a_place_each() {
    let typed = [
        "a big brown dog begs",
        "jim was quite a fierce",
        "zebra kept by thmme dark",
        "queens vex every jog",
    ];
    let fit = read_as(&sheet(), &typed).text.expect("a text was told");
    let [one, other] = fit.skipped[..] else {
        panic!("{:?}", fit.skipped);
    };
    assert_eq!((one.letter, other.letter), ('m', 'm'));
    assert!(one.at.x1.0 <= other.at.x0.0 + 0.01, "{one:?} {other:?}");
}

#[test]
fn a_letter_that_was_not_written_is_skipped_where_it_would_stand() {
    let sheet = sheet();
    let typed = [
        "a big brown dog begs",
        "jim was quite a fierce",
        "zebra kept by thme dark",
        "queens vex every jog",
    ];
    let reading = read_as(&sheet, &typed);
    let fit = reading.text.as_ref().expect("a text was told");
    assert!(fit.fits);
    assert_eq!(fit.skipped.len(), 1, "{:?}", fit.skipped);
    let skipped = fit.skipped[0];
    assert_eq!((skipped.line, skipped.letter), (2, 'm'));
    // Between the h and the e of the word as it was written.
    let written = sheet.written();
    let the: Vec<[f64; 4]> = written
        .iter()
        .filter(|w| (w.line, w.word) == (2, 3))
        .map(|w| w.edges())
        .collect();
    assert!(
        (skipped.at.x0.0 - the[1][2]).abs() < 0.2,
        "{:?} {:?}",
        skipped.at,
        the[1]
    );
    assert!(
        (skipped.at.x1.0 - the[2][0]).abs() < 0.2,
        "{:?} {:?}",
        skipped.at,
        the[2]
    );
    assert!((skipped.at.y0.0 - the[2][1]).abs() < 0.2 && (skipped.at.y1.0 - the[2][3]).abs() < 0.2);
}

/// The page, told with "te" where "the" was written.
fn without_an_h() -> Reading {
    let typed = [
        "a big brown dog begs",
        "jim was quite a fierce",
        "zebra kept by te dark",
        "queens vex every jog",
    ];
    read_as(&sheet(), &typed)
}

#[test]
fn a_letter_that_was_not_typed_leaves_one_letter_over() {
    let (sheet, reading) = (sheet(), without_an_h());
    let fit = reading.text.as_ref().expect("a text was told");
    assert!(fit.fits && fit.skipped.is_empty(), "{:?}", fit.skipped);
    // One letter of the word is left over, the t or the h, and whole.
    let written = sheet.written();
    let the = written.iter().filter(|w| (w.line, w.word) == (2, 3));
    let [extra] = &fit.extra[..] else {
        panic!("{:?}", fit.extra);
    };
    let extra = [extra.x0.0, extra.y0.0, extra.x1.0, extra.y1.0];
    let over = the.clone().find(|w| {
        let edges = w.edges();
        edges.iter().zip(extra).all(|(a, b)| (a - b).abs() < 0.1)
    });
    let over = over.expect("a letter of the word");
    assert!(over.ch == 't' || over.ch == 'h', "{over:?}");
    // Every other letter stands where it was written.
    let left: Vec<f64> = written
        .iter()
        .filter(|w| w.edges() != over.edges())
        .map(|w| w.edges()[0])
        .collect();
    assert_eq!(reading.letters.len(), left.len());
    for (letter, left) in reading.letters.iter().zip(left) {
        assert!((letter.bounds.x0.0 - left).abs() < 0.1, "{letter:?}");
    }
}

#[test]
fn a_letter_that_was_not_typed_gives_no_other_a_fault() {
    // The h that stands where the text has a t reads as an h: that is true, and all that may be said.
    let reading = without_an_h();
    let faults = reading.letters.iter().flat_map(|l| &l.faults);
    let others: Vec<_> = faults
        .filter(|f| f.kind != FaultKind::ReadsAsOther)
        .collect();
    assert!(others.is_empty(), "{others:?}");
}
