//! What each edit writes, and what is refused before anything is written.

use casefile::{Accepted, Edit, WriteRefused};
use units::{Day, MarkShape, Mm, Moment, PageId, PointMm, Ruling, SchoolYear};

use crate::fixtures::*;

#[test]
fn every_record_comes_back_as_it_was_written() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    let ended = units::Focus {
        to: Some(Day(20_050)),
        ..focus(2)
    };
    let looked = units::PageRecord {
        looked_at: Some(Moment(5)),
        ..page(4, laptop)
    };
    let changes = written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(profile())),
            (laptop, Edit::SetTask(task(2))),
            (
                laptop,
                Edit::SetTask(units::Task {
                    text: None,
                    focus: None,
                    ..task(1)
                }),
            ),
            (phone, Edit::AddPage(page(3, phone))),
            (laptop, Edit::AddPage(looked.clone())),
            (laptop, Edit::AddMark(mark(1, 3, laptop))),
            (laptop, Edit::AddMark(mark(2, 3, laptop))),
            (laptop, Edit::AddMark(mark(3, 3, laptop))),
            (laptop, Edit::StartFocus(focus(1))),
            (laptop, Edit::StartFocus(ended.clone())),
        ],
    );
    let mut other = people.file();
    accept_all(&mut other, &changes);
    let view = other.view();
    assert_eq!(view, file.view());
    assert_eq!(view.profile, Some(profile()));
    assert_eq!(
        view.tasks,
        [
            units::Task {
                text: None,
                focus: None,
                ..task(1)
            },
            task(2)
        ]
    );
    // Page 4 was written on the earlier day.
    assert_eq!(view.pages, [looked, page(3, phone)]);
    assert_eq!(
        view.marks,
        [mark(1, 3, laptop), mark(2, 3, laptop), mark(3, 3, laptop)]
    );
    assert_eq!(view.focuses, [focus(1), ended]);
    assert!(!view.newer);
}

#[test]
fn one_edit_is_one_change_and_the_same_edits_make_the_same_bytes() {
    let people = People::new();
    let edits = || {
        vec![
            (&people.laptop, Edit::SetProfile(profile())),
            (&people.phone, Edit::AddPage(page(1, &people.phone))),
            (
                &people.phone,
                Edit::SetText {
                    page: PageId([1; 16]),
                    text: None,
                },
            ),
        ]
    };
    let first = written(&mut people.file(), edits());
    assert_eq!(
        first.iter().map(|change| change.seq).collect::<Vec<_>>(),
        [1, 1, 2]
    );
    assert_eq!(first, written(&mut people.file(), edits()));
}

#[test]
fn saving_an_unaltered_profile_writes_no_field() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    let elsewhere = units::Profile {
        name: "Robin".into(),
        ..profile()
    };
    // The second laptop renames while the first only presses save: the new name stays.
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::SetProfile(profile()), Edit::SetProfile(profile())],
        ),
        (
            &people.second_laptop,
            vec![Edit::SetProfile(elsewhere.clone())],
        ),
    );
    assert_eq!(view.profile, Some(elsewhere));
}

#[test]
fn places_of_measures_stay_out_of_the_document() {
    let people = People::new();
    let mut file = people.file();
    let mut with_places = page(1, &people.phone);
    if let units::Outcome::Measured { places, .. } =
        &mut with_places.readings[0].measures[0].outcome
    {
        let zero = Mm(0.0);
        places.push(units::BoxMm {
            x0: zero,
            y0: zero,
            x1: zero,
            y1: zero,
        });
    }
    file.write(&people.phone, Edit::AddPage(with_places))
        .unwrap();
    assert_eq!(file.view().pages, [page(1, &people.phone)]);
}

#[test]
fn what_only_the_tutor_does_is_refused_to_a_parent() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    let before = file.view();
    let looked = units::PageRecord {
        looked_at: Some(Moment(5)),
        ..page(2, phone)
    };
    for edit in [
        Edit::SetProfile(profile()),
        Edit::SetTask(task(1)),
        Edit::LookAt {
            page: PageId([1; 16]),
            at: Moment(1),
        },
        Edit::AddMark(mark(1, 1, phone)),
        Edit::RemoveMark(units::MarkId([1; 16])),
        Edit::StartFocus(focus(1)),
        Edit::EndFocus {
            focus: units::FocusId([1; 16]),
            on: Day(20_020),
        },
        Edit::AddPage(looked),
    ] {
        assert_eq!(file.write(phone, edit), Err(WriteRefused::TutorOnly));
    }
    let stranger = casefile::Signer::from_secret([77; 32]);
    let refused = file.write(&stranger, Edit::AddPage(page(2, &stranger)));
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    assert_eq!(file.view(), before);
    assert_eq!(books(&file).len(), 1);
}

#[test]
fn a_record_must_be_new_be_ones_own_and_refer_to_something() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    file.write(laptop, Edit::AddPage(page(1, laptop))).unwrap();
    file.write(laptop, Edit::AddMark(mark(1, 1, laptop)))
        .unwrap();
    file.write(laptop, Edit::RemoveMark(units::MarkId([1; 16])))
        .unwrap();
    file.write(laptop, Edit::StartFocus(focus(1))).unwrap();
    let nowhere = PageId([8; 16]);
    for (edit, refusal) in [
        (
            Edit::AddPage(page(1, laptop)),
            WriteRefused::AlreadyThere("page"),
        ),
        (
            Edit::AddMark(mark(1, 1, laptop)),
            WriteRefused::AlreadyThere("mark"),
        ),
        (
            Edit::StartFocus(focus(1)),
            WriteRefused::AlreadyThere("focus"),
        ),
        (
            Edit::AddReading {
                page: PageId([1; 16]),
                reading: reading(1),
            },
            WriteRefused::AlreadyThere("reading"),
        ),
        (
            Edit::AddPage(page(2, &people.phone)),
            WriteRefused::WrongAuthor,
        ),
        (
            Edit::AddMark(mark(2, 1, &people.second_laptop)),
            WriteRefused::WrongAuthor,
        ),
        (
            Edit::AddReading {
                page: nowhere,
                reading: reading(2),
            },
            WriteRefused::Missing("page"),
        ),
        (
            Edit::SetText {
                page: nowhere,
                text: None,
            },
            WriteRefused::Missing("page"),
        ),
        (
            Edit::LookAt {
                page: nowhere,
                at: Moment(1),
            },
            WriteRefused::Missing("page"),
        ),
        (
            Edit::AddMark(mark(2, 8, laptop)),
            WriteRefused::Missing("page"),
        ),
        (
            Edit::RemoveMark(units::MarkId([1; 16])),
            WriteRefused::Missing("mark"),
        ),
        (
            Edit::EndFocus {
                focus: units::FocusId([8; 16]),
                on: Day(20_020),
            },
            WriteRefused::Missing("focus"),
        ),
        (
            Edit::EndFocus {
                focus: units::FocusId([1; 16]),
                on: Day(20_009),
            },
            WriteRefused::OutOfRange("the last day of the focus"),
        ),
    ] {
        assert_eq!(file.write(laptop, edit.clone()), Err(refusal), "{edit:?}");
    }
}

#[test]
fn bounds_hold_at_their_very_edge() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    file.write(laptop, Edit::AddPage(page(1, laptop))).unwrap();
    let refused = |edit: Edit| file.clone().write(laptop, edit).err();
    let named = |name: String| Edit::SetProfile(units::Profile { name, ..profile() });
    // Characters, not bytes.
    assert_eq!(refused(named("é".repeat(60))), None);
    assert!(matches!(
        refused(named("e".repeat(61))),
        Some(WriteRefused::TooLong { limit: 60, .. })
    ));
    assert_eq!(
        refused(named("  ".into())),
        Some(WriteRefused::Empty("the name"))
    );

    let pen = |count| {
        let points = vec![
            PointMm {
                x: Mm(1.0),
                y: Mm(1.0)
            };
            count
        ];
        Edit::AddMark(units::Mark {
            shape: MarkShape::Pen { points },
            ..mark(1, 1, laptop)
        })
    };
    assert_eq!(refused(pen(4_000)), None);
    assert!(matches!(
        refused(pen(4_001)),
        Some(WriteRefused::TooLong { limit: 4_000, .. })
    ));
    assert!(matches!(refused(pen(0)), Some(WriteRefused::Empty(_))));

    let words = |count| {
        Edit::AddMark(units::Mark {
            words: "w".repeat(count),
            ..mark(1, 1, laptop)
        })
    };
    assert_eq!(refused(words(2_000)), None);
    assert!(matches!(
        refused(words(2_001)),
        Some(WriteRefused::TooLong { limit: 2_000, .. })
    ));

    let lines = |lines| Edit::SetText {
        page: PageId([1; 16]),
        text: Some(lines),
    };
    assert_eq!(refused(lines(vec!["x".repeat(500); 200])), None);
    assert!(matches!(
        refused(lines(vec!["x".into(); 201])),
        Some(WriteRefused::TooLong { .. })
    ));
    assert!(matches!(
        refused(lines(vec!["x".repeat(501)])),
        Some(WriteRefused::TooLong { .. })
    ));
    assert!(matches!(
        refused(lines(vec!["a\nb".into()])),
        Some(WriteRefused::OutOfRange(_))
    ));

    for profile in [
        units::Profile {
            year: SchoolYear(14),
            ..profile()
        },
        units::Profile {
            ruling: Ruling::Lines {
                pitch: Mm(f64::NAN),
            },
            ..profile()
        },
        units::Profile {
            ruling: Ruling::Lines { pitch: Mm(0.0) },
            ..profile()
        },
        units::Profile {
            ruling: Ruling::FourLine {
                pitch: Mm(5.0),
                inner: Mm(5.0),
            },
            ..profile()
        },
    ] {
        assert!(matches!(
            refused(Edit::SetProfile(profile)),
            Some(WriteRefused::OutOfRange(_))
        ));
    }
    let minutes = Edit::SetTask(units::Task {
        minutes: 241,
        ..task(1)
    });
    assert!(matches!(
        refused(minutes),
        Some(WriteRefused::OutOfRange(_))
    ));
    let mut endless = reading(2);
    endless.measures[0].outcome = units::Outcome::Measured {
        value: f64::INFINITY,
        se: 0.0,
        spread: None,
        n: 1,
        places: vec![],
    };
    let endless = Edit::AddReading {
        page: PageId([1; 16]),
        reading: endless,
    };
    assert!(matches!(
        refused(endless),
        Some(WriteRefused::OutOfRange(_))
    ));
}

#[test]
fn texts_keep_their_empty_lines() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.phone, Edit::AddPage(page(1, &people.phone)))
        .unwrap();
    for text in [
        None,
        Some(vec![]),
        Some(vec![String::new()]),
        Some(vec!["a".into(), String::new()]),
        Some(vec![
            String::new(),
            "b".into(),
            String::new(),
            String::new(),
        ]),
    ] {
        let edit = Edit::SetText {
            page: PageId([1; 16]),
            text: text.clone(),
        };
        let change = file.write(&people.phone, edit).unwrap();
        assert_eq!(file.view().pages[0].text, text);
        assert_eq!(file.accept(&change), Ok(Accepted::Known));
    }
}

#[test]
fn the_minutes_of_a_page_are_given_altered_and_taken_back() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    let timed = units::PageRecord {
        minutes: Some(7),
        ..page(1, phone)
    };
    file.write(phone, Edit::AddPage(timed.clone())).unwrap();
    assert_eq!(file.view().pages, [timed]);
    let minutes = |minutes| Edit::SetMinutes {
        page: PageId([1; 16]),
        minutes,
    };
    for (by, given) in [(laptop, Some(6)), (phone, None), (phone, Some(240))] {
        file.write(by, minutes(given)).unwrap();
        assert_eq!(file.view().pages[0].minutes, given);
    }
    for wrong in [0, 241] {
        let refused = file.write(laptop, minutes(Some(wrong)));
        assert_eq!(
            refused,
            Err(WriteRefused::OutOfRange("the minutes of writing"))
        );
    }
    let nowhere = Edit::SetMinutes {
        page: PageId([9; 16]),
        minutes: None,
    };
    assert_eq!(
        file.write(laptop, nowhere),
        Err(WriteRefused::Missing("page"))
    );
    assert_eq!(file.view().pages[0].minutes, Some(240));
}
