//! The tutor's private list and notes.

use casefile::{
    Accepted, BookKind, DocId, Edit, FoundingId, PracticeBook, PracticeEdit, Refused, SignedChange,
    Signer, WriteRefused,
};
use units::PupilId;

use crate::fixtures::*;

fn listed(id: u8) -> PupilId {
    PupilId([id; 16])
}

fn book(people: &People) -> PracticeBook {
    let (mut book, first) = begin(people);
    let second = book.admit(&people.laptop, people.second_laptop.device());
    let mut fresh = PracticeBook::new(book.id());
    fresh.accept(&first).unwrap();
    fresh.accept(&second.unwrap()).unwrap();
    fresh
}

fn begin(people: &People) -> (PracticeBook, SignedChange) {
    PracticeBook::begin(&people.laptop, [0x33; 16], None)
}

/// The practice book's document of a device.
fn private_doc(author: &Signer) -> DocId {
    DocId {
        pupil: begin(&People::new()).0.id(),
        book: BookKind::Practice,
        founding: FoundingId::FIRST,
        author: author.device(),
    }
}

#[test]
fn pupils_stand_in_the_order_given_and_notes_beside_them() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut first = book(&people);
    let mut second = book(&people);
    let edits = [
        PracticeEdit::AddPupil(listed(3)),
        PracticeEdit::AddPupil(listed(1)),
        PracticeEdit::AddPupil(listed(2)),
        PracticeEdit::SetNote {
            pupil: listed(1),
            note: "likes ships".into(),
        },
        PracticeEdit::SetNote {
            pupil: listed(2),
            note: "for a while".into(),
        },
        PracticeEdit::SetNote {
            pupil: listed(2),
            note: String::new(),
        },
        PracticeEdit::SetOrder(vec![listed(2), listed(3)]),
        PracticeEdit::RemovePupil(listed(3)),
    ];
    for edit in edits {
        let change = first.write(laptop, edit).unwrap();
        assert!(change.doc.is_private());
        assert_eq!(second.accept(&change), Ok(Accepted::New));
        assert_eq!(second.accept(&change), Ok(Accepted::Known));
    }
    let view = second.view();
    assert_eq!(view, first.view());
    assert_eq!(view.pupils, [listed(2), listed(1)]);
    assert_eq!(view.notes, [(listed(1), "likes ships".to_owned())].into());
    assert_eq!(first.have()[&private_doc(laptop)], 8);
}

#[test]
fn pupils_added_on_two_laptops_are_both_on_the_list() {
    let people = People::new();
    let (mut left, mut right) = (book(&people), book(&people));
    let one = left
        .write(&people.laptop, PracticeEdit::AddPupil(listed(1)))
        .unwrap();
    let two = right
        .write(&people.second_laptop, PracticeEdit::AddPupil(listed(2)))
        .unwrap();
    left.accept(&two).unwrap();
    right.accept(&one).unwrap();
    assert_eq!(left.view(), right.view());
    let mut pupils = left.view().pupils;
    pupils.sort();
    assert_eq!(pupils, [listed(1), listed(2)]);
}

#[test]
fn nobody_else_writes_or_receives_it() {
    let people = People::new();
    let mut book = book(&people);
    let refused = book.write(&people.phone, PracticeEdit::AddPupil(listed(1)));
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    let private = book
        .write(&people.laptop, PracticeEdit::AddPupil(listed(1)))
        .unwrap();
    assert_eq!(people.file().accept(&private), Err(Refused::WrongPupil));

    let stranger = sign(3, private_doc(&people.phone), 1, private.bytes.clone());
    assert_eq!(book.accept(&stranger), Err(Refused::NotAMember));
    let public = people
        .file()
        .write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    assert_eq!(book.accept(&public), Err(Refused::WrongPupil));
    let odd = DocId {
        pupil: pupil(),
        ..private_doc(&people.laptop)
    };
    let odd = sign(1, odd, 1, private.bytes);
    assert_eq!(book.accept(&odd), Err(Refused::WrongPupil));
}

#[test]
fn notes_are_bounded_and_about_listed_pupils() {
    let people = People::new();
    let mut book = book(&people);
    book.write(&people.laptop, PracticeEdit::AddPupil(listed(1)))
        .unwrap();
    let mut refused = |edit| book.write(&people.laptop, edit).unwrap_err();
    let note = |pupil, length| PracticeEdit::SetNote {
        pupil,
        note: "n".repeat(length),
    };
    assert!(matches!(
        refused(note(listed(1), 2_001)),
        WriteRefused::TooLong { limit: 2_000, .. }
    ));
    assert_eq!(refused(note(listed(2), 5)), WriteRefused::Missing("pupil"));
    assert_eq!(
        refused(PracticeEdit::AddPupil(listed(1))),
        WriteRefused::AlreadyThere("pupil")
    );
    assert_eq!(
        refused(PracticeEdit::RemovePupil(listed(2))),
        WriteRefused::Missing("pupil")
    );
    assert_eq!(
        refused(PracticeEdit::SetOrder(vec![listed(2)])),
        WriteRefused::Missing("pupil")
    );
}
