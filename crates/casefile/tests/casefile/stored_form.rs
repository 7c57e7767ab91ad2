//! Bytes once written must be read for ever: what was stored on 25 November 2026, and what came to it
//! since.

use casefile::{CaseFile, Edit, SignedChange};
use units::{FocusId, MarkId, Moment, PageId};

use crate::fixtures::*;

/// Every kind of record and register, as signed changes in hexadecimal, one a line.
const STORED: &str = include_str!("stored_form.hex");
/// What came to it: letter models of the tutor's own, and what was put right.
const STORED_SINCE: &str = include_str!("stored_form_since.hex");

fn everything() -> (CaseFile, Vec<SignedChange>) {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    let changes = written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(profile())),
            (laptop, Edit::SetTask(task(1))),
            (phone, Edit::AddPage(page(1, phone))),
            (laptop, Edit::AddMark(mark(1, 1, laptop))),
            (laptop, Edit::AddMark(mark(2, 1, laptop))),
            (laptop, Edit::AddMark(mark(3, 1, laptop))),
            (laptop, Edit::RemoveMark(MarkId([3; 16]))),
            (
                laptop,
                Edit::AddReading {
                    page: PageId([1; 16]),
                    reading: reading(2),
                },
            ),
            (
                phone,
                Edit::SetText {
                    page: PageId([1; 16]),
                    text: None,
                },
            ),
            (
                laptop,
                Edit::LookAt {
                    page: PageId([1; 16]),
                    at: Moment(1_700_000_000_009),
                },
            ),
            (laptop, Edit::StartFocus(focus(1))),
            (
                laptop,
                Edit::EndFocus {
                    focus: FocusId([1; 16]),
                    on: units::Day(20_033),
                },
            ),
        ],
    );
    (file, changes)
}

fn since() -> (CaseFile, Vec<SignedChange>) {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    let own = || units::Profile {
        model: own_letters(),
        ..profile()
    };
    let throughout = units::Profile {
        model: units::LetterModel::joined(),
        ..profile()
    };
    let page_of_own = units::PageRecord {
        model: own_letters(),
        ..page(1, phone)
    };
    let changes = written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(own())),
            (phone, Edit::AddPage(page_of_own)),
            (laptop, Edit::SetProfile(throughout)),
            (laptop, Edit::Amend(amendment(1, 1, laptop))),
            (laptop, Edit::Amend(amendment(2, 1, laptop))),
            (laptop, Edit::TakeBack(units::AmendmentId([1; 16]))),
        ],
    );
    (file, changes)
}

fn read(stored: &str) -> (CaseFile, usize) {
    let mut old = People::new().file();
    let stored: Vec<SignedChange> = stored
        .lines()
        .map(|line| SignedChange::decode(&from_hex(line)).unwrap())
        .collect();
    accept_all(&mut old, &stored);
    (old, stored.len())
}

#[test]
fn what_was_stored_is_read_as_it_was_meant() {
    for (stored, (file, changes)) in [(STORED, everything()), (STORED_SINCE, since())] {
        let (old, count) = read(stored);
        assert_eq!(old.view(), file.view());
        assert_eq!(count, changes.len());
    }
}

#[test]
fn books_from_before_letter_models_could_be_ones_own_hold_joined_and_unjoined() {
    let (old, _) = read(STORED);
    let view = old.view();
    // As the numbers were meant: 2 joined, 1 unjoined.
    assert_eq!(
        view.profile.unwrap().model,
        units::LetterModel::part_joined()
    );
    assert_eq!(view.pages[0].model, units::LetterModel::unjoined());
    assert!(view.amendments.is_empty() && !view.newer);
}

#[test]
fn what_is_stored_today_is_the_same_bytes() {
    // Another form of bytes needs a new version beside the old one, and another file here.
    for (stored, name, (_, changes)) in [
        (STORED, "stored_form.hex", everything()),
        (STORED_SINCE, "stored_form_since.hex", since()),
    ] {
        let hex: String = changes
            .iter()
            .map(|change| to_hex(&change.encode()) + "\n")
            .collect();
        if let Ok(folder) = std::env::var("WRITE_STORED_FORM") {
            std::fs::write(std::path::Path::new(&folder).join(name), &hex).unwrap();
        }
        assert!(hex == stored, "the stored form has changed: {name}");
    }
}

fn to_hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn from_hex(text: &str) -> Vec<u8> {
    let digits = text.as_bytes().chunks(2);
    digits
        .map(|pair| u8::from_str_radix(core::str::from_utf8(pair).unwrap(), 16).unwrap())
        .collect()
}
