//! Amendments about nothing that is there, and on pages that nobody would amend.

use units::{Amendment, BoxMm, CorrectionKind, FaultKind, JoinVerdict, MeasureName};

use super::{a_box, bytes, dotless, first, marked, read_with};
use crate::pen::{Joins, Sheet};
use crate::read;

/// One amendment of each kind about a place.
fn each_kind(at: BoxMm, letter: char) -> Vec<Amendment> {
    vec![
        Amendment::Letter {
            at,
            letter,
            bounds: Some(at),
        },
        Amendment::Letter {
            at,
            letter,
            bounds: None,
        },
        Amendment::Fault {
            at,
            letter,
            fault: FaultKind::Open,
            there: true,
        },
        Amendment::Reads {
            at,
            letter,
            as_meant: false,
        },
        Amendment::Join {
            at,
            letter,
            verdict: JoinVerdict::Missing,
        },
        Amendment::Correction { at, kind: None },
    ]
}

#[test]
fn what_is_said_of_a_place_where_nothing_is_changes_nothing() {
    let sheet = Sheet {
        joins: Joins::Sound,
        ..Sheet::default()
    };
    let before = bytes(&read(&sheet));
    let margin = each_kind(a_box(1.0, 1.0, 3.0, 4.0), 'o');
    assert!(bytes(&read_with(&sheet, &margin)) == before);
    // Another letter stands there than the one that is spoken of.
    let reading = read(&sheet);
    let o = reading.letters[first(&reading, |l| l.char == Some('o'))].bounds;
    assert!(bytes(&read_with(&sheet, &each_kind(o, 'z'))) == before);
    assert!(bytes(&read_with(&sheet, &each_kind(o, 'ж'))) == before);
}

#[test]
fn amendments_are_borne_on_any_page_and_with_any_box() {
    let far = [
        a_box(f64::NAN, f64::NAN, f64::NAN, f64::NAN),
        a_box(
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
            f64::INFINITY,
            f64::INFINITY,
        ),
        a_box(-1e300, -5.0, 1e300, 1e9),
        a_box(60.0, 30.0, 20.0, 10.0),
        a_box(20.0, 20.0, 20.0, 20.0),
        a_box(0.0, 0.0, 500.0, 500.0),
    ];
    let known = dotless();
    let unknown = Sheet {
        text_known: false,
        ..dotless()
    };
    let blank = Sheet {
        text: Vec::new(),
        ..dotless()
    };
    for sheet in [&known, &unknown, &blank] {
        for at in far {
            let mut all = each_kind(at, 'i');
            all.push(Amendment::Correction {
                at,
                kind: Some(CorrectionKind::WrittenOver),
            });
            all.push(Amendment::Letter {
                at: a_box(6.0, 17.0, 6.5, 20.3),
                letter: 'i',
                bounds: Some(at),
            });
            all.extend([Amendment::Line { at }, Amendment::NotWriting { at }]);
            let reading = read_with(sheet, &all);
            assert_eq!(reading.measures.len(), MeasureName::ALL.len());
            bytes(&reading);
        }
    }
}

#[test]
fn without_a_text_only_corrections_can_be_put_right() {
    let sheet = Sheet {
        text_known: false,
        ..dotless()
    };
    let before = read(&sheet);
    let at = before.letters[3].bounds;
    let mut all = each_kind(at, 'i');
    assert!(bytes(&read_with(&sheet, &all)) == bytes(&before));
    all.push(Amendment::Correction {
        at,
        kind: Some(CorrectionKind::WrittenOver),
    });
    let after = read_with(&sheet, &all);
    assert!(marked(&before, &after).contains(&MeasureName::Corrections));
    assert_eq!(after.letters, before.letters);
}
