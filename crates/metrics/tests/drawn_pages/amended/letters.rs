//! Letters put where a person says that they are.

use units::{Amendment, BoxMm, FaultKind, Letter, MeasureName, Mm, Reading};

use super::{a_box, bytes, dotless, first, marked, read_with, rests_on};
use crate::pen::{Flaw, Joins, Sheet};
use crate::read;

#[test]
fn a_letter_drawn_anew_stands_where_it_was_drawn() {
    let sheet = dotless();
    let before = read(&sheet);
    for ch in "iamntb".chars() {
        let at = first(&before, |l| l.char == Some(ch));
        let whole = before.letters[at].bounds;
        let half = BoxMm {
            x1: Mm((whole.x0.0 + whole.x1.0) / 2.0),
            ..whole
        };
        let drawn = Amendment::Letter {
            at: whole,
            letter: ch,
            bounds: Some(half),
        };
        let after = read_with(&sheet, &[drawn]);
        let (letter, found) = (&after.letters[at], after.letters[at].bounds);
        let near = |a: Mm, b: Mm, within: f64| (a.0 - b.0).abs() < within;
        let whole_sides = near(found.x0, half.x0, 0.1)
            && near(found.y0, half.y0, 0.1)
            && near(found.y1, half.y1, 0.1);
        // Where the box cuts through a stroke, the ink's edge is looked for three pixels further.
        let cut = near(found.x1, half.x1, 3.0 / sheet.px_per_mm);
        assert!(whole_sides && cut, "{ch}: {found:?}, drawn {half:?}");
        assert!(letter.by_hand && letter.char == Some(ch) && letter.confidence.0 == 1.0);
        assert_eq!(after.letters.len(), before.letters.len());
        marked(&before, &after);
    }
}

#[test]
fn a_letter_said_to_have_no_ink_counts_nowhere() {
    let sheet = Sheet {
        joins: Joins::Sound,
        ..Sheet::default()
    };
    let before = read(&sheet);
    let at = first(&before, |l| l.char == Some('o'));
    let none = Amendment::Letter {
        at: before.letters[at].bounds,
        letter: 'o',
        bounds: None,
    };
    // Whatever was said of it before or is said after.
    let sound = Amendment::Fault {
        at: before.letters[at].bounds,
        letter: 'o',
        fault: FaultKind::Open,
        there: true,
    };
    assert_eq!(
        read_with(&sheet, &[sound, none, sound]),
        read_with(&sheet, &[none])
    );
    let after = read_with(&sheet, &[none]);
    let letter = &after.letters[at];
    assert!(letter.by_hand && letter.confidence.0 == 0.0 && letter.faults.is_empty());
    assert_eq!((letter.body, letter.bowl, letter.reads), (None, None, None));
    assert!(
        after
            .joins
            .iter()
            .all(|join| join.left != at && join.left + 1 != at)
    );
    for name in [
        MeasureName::XHeight,
        MeasureName::WellFormed,
        MeasureName::OWidth,
    ] {
        assert_eq!(
            rests_on(&after, name),
            rests_on(&before, name) - 1,
            "{name:?}"
        );
    }
    let own = |reading: &Reading| {
        reading
            .joins
            .iter()
            .filter(|j| j.left == at || j.left + 1 == at)
            .count()
    };
    assert!(own(&before) > 0);
    let lost = rests_on(&before, MeasureName::JoinsMade) - rests_on(&after, MeasureName::JoinsMade);
    assert_eq!(lost as usize, own(&before));
}

/// Twice drawn, at first far from where the engine saw it.
fn drawn_twice() -> (Reading, Reading) {
    let sheet = dotless();
    let before = read(&sheet);
    let at = first(&before, |l| l.char == Some('w'));
    let (seen, next) = (before.letters[at].bounds, before.letters[at + 1].bounds);
    let place = |bounds| Amendment::Letter {
        at: seen,
        letter: 'w',
        bounds: Some(bounds),
    };
    let twice = read_with(&sheet, &[place(next), place(seen)]);
    (twice, read_with(&sheet, &[place(seen)]))
}

#[test]
fn of_two_places_for_a_letter_the_later_holds() {
    let (twice, once) = drawn_twice();
    assert!(bytes(&twice) == bytes(&once));
}

/// A page on which a dot on the line is all that there is of an l; before and after that was put in by
/// hand, and the dot.
fn with_a_skipped_letter() -> (Sheet, Reading, Reading, BoxMm) {
    let sheet = Sheet {
        text: vec![
            "the jam is a good one",
            "we had a hal*l and pen",
            "an old man eats a fig",
        ],
        flaw: Some(Flaw::Stunted(0.05)),
        pitch: None,
        ..Sheet::default()
    };
    let before = read(&sheet);
    let fit = before.text.as_ref().expect("a text was told");
    let [skipped] = &fit.skipped[..] else {
        panic!("{fit:?}");
    };
    assert_eq!((skipped.line, skipped.letter), (1, 'l'));
    let short = sheet.written().into_iter().find(|w| w.flawed);
    let [x0, y0, x1, y1] = short.expect("the l").edges();
    let ink = a_box(x0, y0, x1, y1);
    let put_in = Amendment::Letter {
        at: skipped.at,
        letter: 'l',
        bounds: Some(ink),
    };
    let after = read_with(&sheet, &[put_in]);
    (sheet, before, after, ink)
}

#[test]
fn a_skipped_letter_is_put_in_at_its_ink() {
    let (sheet, before, after, ink) = with_a_skipped_letter();
    let put_in: Vec<&Letter> = after.letters.iter().filter(|l| l.by_hand).collect();
    let [letter] = put_in[..] else {
        panic!("{put_in:?}");
    };
    let sides = |b: BoxMm| [b.x0.0, b.y0.0, b.x1.0, b.y1.0];
    let mut pairs = sides(letter.bounds).into_iter().zip(sides(ink));
    assert!(pairs.all(|(a, b)| (a - b).abs() < 0.2), "{letter:?}");
    assert_eq!((letter.char, letter.line), (Some('l'), 1));
    assert_eq!(after.letters.len(), before.letters.len() + 1);
    // It stands in its word, in order.
    let chars: String = after.letters.iter().filter_map(|l| l.char).collect();
    let written: String = sheet.written().iter().map(|w| w.ch).collect();
    assert_eq!(chars, written);
    marked(&before, &after);
}

#[test]
fn a_letter_that_was_put_in_is_skipped_no_more() {
    let (_, before, after, _) = with_a_skipped_letter();
    let fit = |reading: &Reading| {
        let fit = reading.text.clone().expect("a text was told");
        (fit.skipped.len(), fit.found)
    };
    let (skipped, found) = fit(&before);
    assert_eq!(fit(&after), (skipped - 1, found + 1));
}
