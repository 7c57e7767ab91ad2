//! Bytes once written must be read for ever: what was stored on 25 November 2026.

use casefile::{CaseFile, Edit, SignedChange};
use units::{FocusId, MarkId, Moment, PageId};

use crate::fixtures::*;

/// Every kind of record and register, as signed changes in hexadecimal, one a line.
const STORED: &str = include_str!("stored_form.hex");

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

#[test]
fn what_was_stored_is_read_as_it_was_meant() {
    let (file, changes) = everything();
    let mut old = People::new().file();
    let stored: Vec<SignedChange> = STORED
        .lines()
        .map(|line| SignedChange::decode(&from_hex(line)).unwrap())
        .collect();
    accept_all(&mut old, &stored);
    assert_eq!(old.view(), file.view());
    assert_eq!(stored.len(), changes.len());
}

#[test]
fn what_is_stored_today_is_the_same_bytes() {
    // Another form of bytes needs a new version beside the old one, and a second file here.
    let (_, changes) = everything();
    let hex: String = changes
        .iter()
        .map(|change| to_hex(&change.encode()) + "\n")
        .collect();
    if let Ok(path) = std::env::var("WRITE_STORED_FORM") {
        std::fs::write(path, &hex).unwrap();
    }
    assert!(hex == STORED, "the stored form has changed");
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
