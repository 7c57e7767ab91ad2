//! Which changes are taken and which are refused, and that a refusal alters nothing.

use casefile::{
    Accepted, BookKind, CaseFile, DecodeRefused, DocId, Edit, FoundingId, Refused, SignedChange,
};
use units::{DeviceId, PupilId, Role};

use crate::fixtures::*;

/// Three changes of the phone.
fn pages() -> (People, Vec<SignedChange>) {
    let people = People::new();
    let phone = &people.phone;
    let edits = (1..=3)
        .map(|id| (phone, Edit::AddPage(page(id, phone))))
        .collect();
    let changes = written(&mut people.file(), edits);
    (people, changes)
}

fn refused(file: &mut CaseFile, change: &SignedChange) -> Refused {
    let (view, have) = (file.view(), file.have());
    let refused = file.accept(change).unwrap_err();
    assert_eq!(
        (file.view(), file.have()),
        (view, have),
        "a refusal alters nothing"
    );
    refused
}

#[test]
fn changes_are_taken_in_order_and_a_repeat_does_nothing() {
    let (people, changes) = pages();
    let mut file = people.file();
    for change in &changes {
        assert_eq!(file.accept(change), Ok(Accepted::New));
    }
    let view = file.view();
    for change in changes.iter().rev() {
        assert_eq!(file.accept(change), Ok(Accepted::Known));
    }
    assert_eq!(file.view(), view);
    assert_eq!(
        books(&file),
        [(doc(BookKind::Home, &people.phone), 3)].into()
    );
}

#[test]
fn a_gap_is_refused_with_the_number_that_must_come_next() {
    let (people, changes) = pages();
    let mut file = people.file();
    assert_eq!(
        refused(&mut file, &changes[1]),
        Refused::Gap { expected: 1 }
    );
    file.accept(&changes[0]).unwrap();
    assert_eq!(
        refused(&mut file, &changes[2]),
        Refused::Gap { expected: 2 }
    );
    file.accept(&changes[1]).unwrap();
    file.accept(&changes[2]).unwrap();
}

#[test]
fn many_at_once_come_out_as_one_after_the_other() {
    let (people, changes) = pages();
    let mut other = people.file();
    let tutors = written(
        &mut other,
        vec![
            (&people.laptop, Edit::SetProfile(profile())),
            (&people.laptop, Edit::SetTask(task(1))),
        ],
    );
    let mut forked = people.file();
    forked.accept(&changes[0]).unwrap();
    let phone = &people.phone;
    let fork = forked.write(phone, Edit::AddPage(page(9, phone))).unwrap();
    let forged = SignedChange {
        signature: [1; 64],
        ..tutors[1].clone()
    };
    let stranger = sign(
        9,
        doc(BookKind::Tutor, &casefile::Signer::from_secret([9; 32])),
        1,
        vec![],
    );
    let empty = sign(4, doc(BookKind::Home, &people.second_phone), 1, vec![]);
    let heap = [
        &changes[1],
        &tutors[0],
        &changes[0],
        &forged,
        &changes[1],
        &fork,
        &stranger,
        &tutors[0],
        &empty,
        &tutors[1],
        &changes[2],
    ];
    let mut at_once = people.file();
    let outcomes = at_once.accept_all(heap);
    let mut one_by_one = people.file();
    let wanted: Vec<_> = heap
        .into_iter()
        .map(|change| one_by_one.accept(change))
        .collect();
    assert_eq!(outcomes, wanted);
    assert_eq!(
        outcomes
            .iter()
            .filter(|outcome| **outcome == Ok(Accepted::New))
            .count(),
        5
    );
    assert_eq!(at_once.view(), one_by_one.view());
    assert_eq!(at_once.have(), one_by_one.have());
}

#[test]
fn nothing_under_a_signature_can_be_altered() {
    let (people, changes) = pages();
    let mut file = people.file();
    let good = &changes[0];
    let mut forgeries = vec![
        SignedChange {
            seq: 2,
            ..good.clone()
        },
        SignedChange {
            doc: doc(BookKind::Home, &people.second_phone),
            ..good.clone()
        },
        SignedChange {
            bytes: changes[1].bytes.clone(),
            ..good.clone()
        },
        SignedChange {
            signature: changes[1].signature,
            ..good.clone()
        },
        SignedChange {
            signature: [0; 64],
            ..good.clone()
        },
    ];
    for bit in 0..8 {
        let mut bent = good.clone();
        bent.bytes[bit * 9] ^= 1 << bit;
        forgeries.push(bent);
    }
    for forgery in &forgeries {
        assert!(!forgery.verify());
        assert_eq!(refused(&mut file, forgery), Refused::BadSignature);
    }
    assert!(good.verify());
    file.accept(good).unwrap();
}

#[test]
fn a_change_of_one_pupil_holds_for_no_other() {
    let (people, changes) = pages();
    let (mut other, _) = CaseFile::begin(&people.laptop, [0x22; 16], None);
    other
        .admit(&people.laptop, people.phone.device(), Role::Parent)
        .unwrap();
    assert_ne!(other.pupil(), pupil());
    assert_eq!(refused(&mut other, &changes[0]), Refused::WrongPupil);
    let mut moved = changes[0].clone();
    moved.doc.pupil = other.pupil();
    assert_eq!(refused(&mut other, &moved), Refused::BadSignature);
}

#[test]
fn a_book_is_written_by_its_own_people_only() {
    let (people, changes) = pages();
    let mut strangers = CaseFile::new(pupil());
    assert_eq!(refused(&mut strangers, &changes[0]), Refused::NotAMember);
    // A parent's device, with a good signature, in the tutor's book; and the other way round.
    let mut file = people.file();
    let into_tutors = sign(
        3,
        doc(BookKind::Tutor, &people.phone),
        1,
        changes[0].bytes.clone(),
    );
    assert!(into_tutors.verify());
    assert_eq!(refused(&mut file, &into_tutors), Refused::NotAMember);
    let into_home = sign(
        1,
        doc(BookKind::Home, &people.laptop),
        1,
        changes[0].bytes.clone(),
    );
    assert_eq!(refused(&mut file, &into_home), Refused::NotAMember);
}

#[test]
fn two_different_changes_under_one_number_are_a_fork() {
    let (people, changes) = pages();
    let phone = &people.phone;
    let mut file = people.file();
    accept_all(&mut file, &changes);
    // The phone was put back to an old state and wrote on.
    let mut restored = people.file();
    restored.accept(&changes[0]).unwrap();
    let other = restored
        .write(phone, Edit::AddPage(page(9, phone)))
        .unwrap();
    assert_eq!(refused(&mut file, &other), Refused::Forked { seq: 2 });
    assert_eq!(
        refused(&mut restored, &changes[1]),
        Refused::Forked { seq: 2 }
    );
}

#[test]
fn the_signature_follows_the_published_layout() {
    let (people, changes) = pages();
    let id = doc(BookKind::Home, &people.phone);
    assert_eq!(sign(3, id, 1, changes[0].bytes.clone()), changes[0]);
}

#[test]
fn a_change_and_an_id_survive_encoding() {
    let (_, changes) = pages();
    for change in &changes {
        assert_eq!(SignedChange::decode(&change.encode()).as_ref(), Ok(change));
        assert_eq!(DocId::decode(&change.doc.encode()), Ok(change.doc));
    }
    let private = DocId {
        pupil: PupilId([7; 16]),
        book: BookKind::Practice,
        founding: FoundingId([8; 8]),
        author: DeviceId([5; 32]),
    };
    assert!(private.is_private() && !changes[0].doc.is_private());
    assert_eq!(DocId::decode(&private.encode()), Ok(private));
}

#[test]
fn bytes_that_are_no_change_are_refused() {
    let (_, changes) = pages();
    let good = changes[0].encode();
    assert_eq!(SignedChange::decode(&[]), Err(DecodeRefused::Length));
    for length in 1..131 {
        assert_eq!(
            SignedChange::decode(&good[..length]),
            Err(DecodeRefused::Length)
        );
    }
    let mut newer = good.clone();
    newer[0] = 3;
    assert_eq!(
        SignedChange::decode(&newer),
        Err(DecodeRefused::UnknownVersion(3))
    );
    let mut strange = good.clone();
    strange[17] = 9;
    assert_eq!(
        SignedChange::decode(&strange),
        Err(DecodeRefused::UnknownBook)
    );
    let mut huge = good;
    huge.resize(131 + casefile::MAX_CHANGE_BYTES + 1, 0);
    assert_eq!(SignedChange::decode(&huge), Err(DecodeRefused::TooLarge));
    assert_eq!(DocId::decode(&[0; 56]), Err(DecodeRefused::Length));
}
