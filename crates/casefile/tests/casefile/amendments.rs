//! What a person puts right: written, taken back, merged pair by pair, and sent by ill-meaning devices.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ROOT, ScalarValue};
use casefile::{BookKind, CaseFile, Edit, WriteRefused};
use units::{
    Amendment, AmendmentId, AmendmentRecord, BoxMm, CorrectionKind, FaultKind, JoinVerdict, Mm,
    Moment, PageId,
};

use crate::fixtures::*;

const PAGE: PageId = PageId([1; 16]);
const LAPTOP: u8 = 1;

/// A page that everybody has seen, with two amendments of the first laptop.
fn known() -> (People, CaseFile) {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    written(
        &mut file,
        vec![
            (phone, Edit::AddPage(page(1, phone))),
            (laptop, Edit::Amend(amendment(1, 1, laptop))),
            (laptop, Edit::Amend(amendment(2, 1, laptop))),
        ],
    );
    (people, file)
}

#[test]
fn every_kind_comes_back_as_it_was_written() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    file.write(laptop, Edit::AddPage(page(1, laptop))).unwrap();
    let at = place(10.25);
    let mut all = vec![
        Amendment::Letter {
            at,
            letter: 'g',
            bounds: Some(place(11.5)),
        },
        Amendment::Letter {
            at,
            letter: 'é',
            bounds: None,
        },
        Amendment::Correction { at, kind: None },
        Amendment::NotWriting { at },
        Amendment::Line { at },
    ];
    use FaultKind as F;
    for fault in [
        F::Open,
        F::EyeClosed,
        F::Reversed,
        F::Apart,
        F::NoDot,
        F::NoBar,
        F::NotTall,
        F::NotBelow,
        F::HighBowl,
        F::ReadsAsOther,
    ] {
        all.extend([true, false].map(|there| Amendment::Fault {
            at,
            letter: 'a',
            fault,
            there,
        }));
    }
    all.extend([true, false].map(|as_meant| Amendment::Reads {
        at,
        letter: 'd',
        as_meant,
    }));
    use JoinVerdict as J;
    all.extend(
        [J::Joined, J::Missing, J::WrongHeight].map(|verdict| Amendment::Join {
            at,
            letter: 'o',
            verdict,
        }),
    );
    use CorrectionKind as C;
    all.extend(
        [
            C::StruckOnce,
            C::StruckManyTimes,
            C::WrittenOver,
            C::Bracketed,
        ]
        .map(|kind| Amendment::Correction {
            at,
            kind: Some(kind),
        }),
    );
    let records: Vec<AmendmentRecord> = (0_u8..)
        .zip(all)
        .map(|(id, what)| AmendmentRecord {
            what,
            ..amendment(id, 1, laptop)
        })
        .collect();
    for record in &records {
        file.write(laptop, Edit::Amend(record.clone())).unwrap();
    }
    assert_eq!(file.view().amendments, records);
    assert!(!file.view().newer);
}

#[test]
fn they_stand_in_the_order_of_their_moments_then_ids() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    file.write(laptop, Edit::AddPage(page(1, laptop))).unwrap();
    let made = |id, at| AmendmentRecord {
        made_at: Moment(at),
        ..amendment(id, 1, laptop)
    };
    let (a, b, c) = (made(9, 5), made(1, 7), made(2, 7));
    for record in [&c, &b, &a] {
        file.write(laptop, Edit::Amend(record.clone())).unwrap();
    }
    assert_eq!(file.view().amendments, [a, b, c]);
}

#[test]
fn refusals_name_their_reason_and_write_nothing() {
    let (people, mut file) = known();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let before = file.view();
    let mut refuse = |by, edit: Edit, why: WriteRefused| {
        assert_eq!(file.write(by, edit.clone()), Err(why), "{edit:?}");
    };
    let amend = |what| {
        Edit::Amend(AmendmentRecord {
            what,
            ..amendment(3, 1, laptop)
        })
    };
    refuse(
        phone,
        Edit::Amend(amendment(3, 1, phone)),
        WriteRefused::TutorOnly,
    );
    refuse(
        phone,
        Edit::TakeBack(AmendmentId([1; 16])),
        WriteRefused::TutorOnly,
    );
    refuse(
        laptop,
        Edit::Amend(amendment(1, 1, laptop)),
        WriteRefused::AlreadyThere("amendment"),
    );
    refuse(
        laptop,
        Edit::Amend(amendment(3, 8, laptop)),
        WriteRefused::Missing("page"),
    );
    refuse(
        laptop,
        Edit::Amend(amendment(3, 1, &people.second_laptop)),
        WriteRefused::WrongAuthor,
    );
    refuse(
        laptop,
        Edit::TakeBack(AmendmentId([3; 16])),
        WriteRefused::Missing("amendment"),
    );
    let inside_out = BoxMm {
        x0: Mm(9.0),
        ..place(1.0)
    };
    let nowhere = BoxMm {
        y1: Mm(f64::NAN),
        ..place(1.0)
    };
    for at in [inside_out, nowhere, place(2_001.0)] {
        let what = Amendment::Correction { at, kind: None };
        refuse(laptop, amend(what), WriteRefused::OutOfRange("the place"));
        let what = Amendment::Letter {
            at: place(1.0),
            letter: 'a',
            bounds: Some(at),
        };
        refuse(
            laptop,
            amend(what),
            WriteRefused::OutOfRange("the letter's place"),
        );
    }
    for letter in [' ', '\n', '\u{0}', '\u{2028}'] {
        let what = Amendment::Reads {
            at: place(1.0),
            letter,
            as_meant: true,
        };
        refuse(laptop, amend(what), WriteRefused::OutOfRange("the letter"));
    }
    let early = Edit::Amend(AmendmentRecord {
        made_at: Moment(-1),
        ..amendment(3, 1, laptop)
    });
    refuse(laptop, early, WriteRefused::OutOfRange("the moment"));
    assert_eq!(file.view(), before);
}

#[test]
fn what_is_taken_back_is_gone_and_its_id_stays_taken() {
    let (people, mut file) = known();
    let laptop = &people.laptop;
    let take = || Edit::TakeBack(AmendmentId([1; 16]));
    file.write(&people.second_laptop, take()).unwrap();
    assert_eq!(file.view().amendments, [amendment(2, 1, laptop)]);
    assert_eq!(
        file.write(laptop, take()),
        Err(WriteRefused::Missing("amendment"))
    );
    assert_eq!(
        file.write(laptop, Edit::Amend(amendment(1, 1, laptop))),
        Err(WriteRefused::AlreadyThere("amendment"))
    );
}

#[test]
fn two_laptops_put_one_letter_right_in_two_ways_and_both_are_there_in_order() {
    let (people, file) = known();
    let says = |id, by, there| AmendmentRecord {
        what: Amendment::Fault {
            at: place(3.0),
            letter: 'a',
            fault: FaultKind::Open,
            there,
        },
        ..amendment(id, 1, by)
    };
    // The one made later stands last, whichever device is higher.
    let one = says(4, &people.laptop, true);
    let two = says(3, &people.second_laptop, false);
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::Amend(one.clone())]),
        (&people.second_laptop, vec![Edit::Amend(two.clone())]),
    );
    assert_eq!(view.amendments[2..], [two, one]);
}

#[test]
fn one_taken_back_while_another_is_made_elsewhere() {
    let (people, file) = known();
    let new = amendment(3, 1, &people.second_laptop);
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::TakeBack(AmendmentId([1; 16]))]),
        (
            &people.second_laptop,
            vec![
                Edit::Amend(new.clone()),
                Edit::AddReading {
                    page: PAGE,
                    reading: reading(7),
                },
            ],
        ),
    );
    assert_eq!(view.amendments, [amendment(2, 1, &people.laptop), new]);
    assert_eq!(view.pages[0].readings, [reading(1), reading(7)]);
}

#[test]
fn one_taken_back_twice_is_gone_once() {
    let (people, file) = known();
    let take = || vec![Edit::TakeBack(AmendmentId([1; 16]))];
    let view = at_once(
        &file,
        (&people.laptop, take()),
        (&people.second_laptop, take()),
    );
    assert_eq!(view.amendments, [amendment(2, 1, &people.laptop)]);
}

#[test]
fn an_amendment_and_a_parents_text_at_once_both_hold() {
    let (people, file) = known();
    let new = amendment(3, 1, &people.laptop);
    let text = Some(vec!["a wet frog".to_owned()]);
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::Amend(new.clone())]),
        (
            &people.phone,
            vec![Edit::SetText {
                page: PAGE,
                text: text.clone(),
            }],
        ),
    );
    assert_eq!(view.amendments.last(), Some(&new));
    assert_eq!(view.pages[0].text, text);
}

#[test]
fn an_amendment_and_a_mark_of_one_id_do_not_meet() {
    let (people, file) = known();
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::Amend(amendment(3, 1, &people.laptop))],
        ),
        (
            &people.second_laptop,
            vec![Edit::AddMark(mark(3, 1, &people.second_laptop))],
        ),
    );
    assert_eq!((view.amendments.len(), view.marks.len()), (3, 1));
}

#[test]
fn one_id_brought_by_two_laptops_shows_the_lower_devices() {
    let (people, file) = known();
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::Amend(amendment(3, 1, &people.laptop))],
        ),
        (
            &people.second_laptop,
            vec![Edit::Amend(amendment(3, 1, &people.second_laptop))],
        ),
    );
    let lower = people.laptop.device().min(people.second_laptop.device());
    assert_eq!(view.amendments.len(), 3);
    assert_eq!(view.amendments[2].by, lower);
}

#[test]
fn taking_back_may_come_before_the_amendment_and_both_before_the_page() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    let page_change = file
        .write(&people.phone, Edit::AddPage(page(1, &people.phone)))
        .unwrap();
    let made = written(
        &mut file,
        vec![
            (laptop, Edit::Amend(amendment(1, 1, laptop))),
            (laptop, Edit::Amend(amendment(2, 1, laptop))),
        ],
    );
    let back = file
        .write(&people.second_laptop, Edit::TakeBack(AmendmentId([1; 16])))
        .unwrap();
    let mut late = people.file();
    late.accept(&back).unwrap();
    accept_all(&mut late, &made);
    assert_eq!(late.view().amendments, [amendment(2, 1, laptop)]);
    assert!(late.view().pages.is_empty());
    late.accept(&page_change).unwrap();
    assert_eq!(late.view(), file.view());
}

#[test]
fn a_parent_cannot_put_right_or_take_back_in_the_tutors_name() {
    let (people, mut file) = known();
    let before = file.view();
    // The very bytes that the tutor's laptop would write, in the family's own book.
    let packed = {
        let bytes = tutors_bytes(&people);
        assert!(bytes.len() > 40);
        bytes
    };
    let id = doc(BookKind::Home, &people.second_phone);
    let bytes = raw_change(
        &mut raw_document(&id),
        CommitOptions::default().with_time(0),
        |change| {
            let new = format!("amend/{}", "09".repeat(16));
            change.put(ROOT, new, ScalarValue::Bytes(packed)).unwrap();
            change
                .put(ROOT, format!("unamend/{}", "01".repeat(16)), true)
                .unwrap();
        },
    );
    file.accept(&sign(4, id, 1, bytes)).unwrap();
    assert_eq!(file.view(), before);
}

/// An amendment of page 1 as it is packed: version 1, page, kind, place, letter, fault, moment.
fn tutors_bytes(_: &People) -> Vec<u8> {
    let mut bytes = vec![1];
    bytes.extend([1; 16]);
    bytes.push(1);
    for edge in [1.0_f64, 1.0, 3.0, 3.0] {
        bytes.extend(edge.to_le_bytes());
    }
    bytes.extend([1, b'a', 1, 1, 2]);
    bytes
}

#[test]
fn what_a_tutors_device_should_not_have_written_is_left_out_and_newer_kinds_are_told_of() {
    let people = People::new();
    let id = doc(BookKind::Tutor, &people.laptop);
    let good = tutors_bytes(&people);
    let mut unknown_fault = good.clone();
    let fault = good.len() - 3;
    unknown_fault[fault] = 200;
    let mut unknown_kind = good.clone();
    unknown_kind[17] = 99;
    let mut far = good.clone();
    far[18..26].copy_from_slice(&1e9_f64.to_le_bytes());
    let show = |packed: Vec<u8>| {
        let bytes = raw_change(
            &mut raw_document(&id),
            CommitOptions::default().with_time(0),
            |change| {
                let key = format!("amend/{}", "05".repeat(16));
                change.put(ROOT, key, ScalarValue::Bytes(packed)).unwrap();
            },
        );
        let mut file = people.file();
        file.accept(&sign(LAPTOP, id, 1, bytes)).unwrap();
        let view = file.view();
        (view.amendments.len(), view.newer)
    };
    assert_eq!(show(good.clone()), (1, false));
    assert_eq!(show(unknown_fault), (0, true));
    assert_eq!(show([&[2], &good[1..]].concat()), (0, true));
    assert_eq!(show(unknown_kind), (0, false));
    assert_eq!(show(far), (0, false));
    assert_eq!(show([&good[..], &[0]].concat()), (0, false));
    for length in 0..good.len() {
        assert_eq!(show(good[..length].to_vec()), (0, false), "{length}");
    }
}
