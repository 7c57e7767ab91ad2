//! Bytes once written must be read for ever: what was stored on 26 November 2026.

use casefile::{CaseFile, Edit, SignedChange, Signer};
use units::{FocusId, MarkId, Moment, PageId};

use crate::fixtures::*;

/// Every kind of record and register, as signed changes in hexadecimal, one a line.
const STORED: &str = include_str!("stored_form.hex");
/// The same, founded anew.
const FOUNDED: &str = include_str!("stored_form_founded.hex");

/// Marks and amendments have ids from these on.
fn everything(marks: u8, amendments: u8) -> (CaseFile, Vec<SignedChange>) {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let first_page = PageId([1; 16]);
    let mut changes = people.log();
    let mut file = people.file();
    let edits = vec![
        (laptop, Edit::SetProfile(profile())),
        (laptop, Edit::SetTask(task(1))),
        (phone, Edit::AddPage(page(1, phone))),
        (laptop, Edit::AddMark(mark(marks + 1, 1, laptop))),
        (laptop, Edit::AddMark(mark(marks + 2, 1, laptop))),
        (laptop, Edit::AddMark(mark(marks + 3, 1, laptop))),
        (laptop, Edit::RemoveMark(MarkId([marks + 3; 16]))),
        (
            laptop,
            Edit::AddReading {
                page: first_page,
                reading: reading(2),
            },
        ),
        (
            phone,
            Edit::SetText {
                page: first_page,
                text: None,
            },
        ),
        (
            laptop,
            Edit::LookAt {
                page: first_page,
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
        (
            laptop,
            Edit::SetProfile(units::Profile {
                model: own_letters(),
                ..profile()
            }),
        ),
        (
            phone,
            Edit::AddPage(units::PageRecord {
                model: own_letters(),
                ..page(2, phone)
            }),
        ),
        (laptop, Edit::Amend(amendment(amendments + 1, 1, laptop))),
        (laptop, Edit::Amend(amendment(amendments + 2, 1, laptop))),
        (
            laptop,
            Edit::TakeBack(units::AmendmentId([amendments + 1; 16])),
        ),
        (laptop, Edit::SetTarget(target())),
        (laptop, Edit::SetDeleteBy(Some(units::Day(21_000)))),
        (phone, Edit::AddPractised(practised(1))),
        (phone, Edit::AddSetUp(setup(1))),
        (phone, Edit::AddReply(reply(1, 1, phone))),
        (phone, Edit::AskToForget(ask(1, phone))),
        (phone, Edit::TakePageOut(PageId([2; 16]))),
    ];
    changes.extend(written(&mut file, edits));
    changes.push(file.remove(laptop, people.second_phone.device()).unwrap());
    let paper = Signer::from_secret([9; 32]).device();
    changes.push(file.name_paper_key(laptop, paper).unwrap());
    (file, changes)
}

/// The books of [`everything`] founded anew, where no record has the id of another, as in life.
fn founded() -> (CaseFile, Vec<SignedChange>) {
    let (mut file, mut changes) = everything(0x60, 0x70);
    let laptop = People::new().laptop;
    changes.extend(found(&mut file, &laptop, 0xF0, &[]).write);
    (file, changes)
}

fn read(stored: &str) -> (CaseFile, usize) {
    let mut old = CaseFile::new(pupil());
    let stored: Vec<SignedChange> = stored
        .lines()
        .map(|line| SignedChange::decode(&from_hex(line)).unwrap())
        .collect();
    accept_all(&mut old, &stored);
    old.settle(&People::new().second_laptop).unwrap();
    (old, stored.len())
}

#[test]
fn what_was_stored_is_read_as_it_was_meant() {
    for (stored, (file, changes)) in [(STORED, everything(0, 0)), (FOUNDED, founded())] {
        let (old, count) = read(stored);
        assert_eq!(old.view(), file.view());
        assert_eq!(count, changes.len());
    }
}

#[test]
fn what_is_stored_today_is_the_same_bytes() {
    // Another form of bytes needs a new version beside the old one, and another file here.
    for (stored, name, (_, changes)) in [
        (STORED, "stored_form.hex", everything(0, 0)),
        (FOUNDED, "stored_form_founded.hex", founded()),
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
