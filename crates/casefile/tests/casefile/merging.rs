//! What comes of two devices writing without having seen each other, pair by pair.

use casefile::{CaseFile, Edit, FoundingId, WriteRefused};
use units::{Day, FocusId, Hand, Mark, MarkId, Moment, PageId, PractisedId, SchoolYear};

use crate::fixtures::*;

const PAGE: PageId = PageId([1; 16]);

/// A pupil with a profile, a task, a page, two marks and a focus, which everybody has seen.
fn known() -> (People, CaseFile) {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(profile())),
            (laptop, Edit::SetTask(task(1))),
            (phone, Edit::AddPage(page(1, phone))),
            (laptop, Edit::AddMark(mark(1, 1, laptop))),
            (laptop, Edit::AddMark(mark(2, 1, laptop))),
            (laptop, Edit::StartFocus(focus(1))),
        ],
    );
    (people, file)
}

/// The device whose write holds where two laptops write at the same logical time.
fn higher(people: &People) -> bool {
    people.laptop.device() > people.second_laptop.device()
}

#[test]
fn two_parents_add_pages_and_both_are_there() {
    let (people, file) = known();
    let (one, two) = (page(2, &people.phone), page(3, &people.second_phone));
    let view = at_once(
        &file,
        (&people.phone, vec![Edit::AddPage(one.clone())]),
        (&people.second_phone, vec![Edit::AddPage(two.clone())]),
    );
    assert_eq!(view.pages, [two, one, page(1, &people.phone)]);
}

#[test]
fn two_laptops_mark_one_page_and_both_marks_are_there() {
    let (people, file) = known();
    let (one, two) = (
        mark(3, 1, &people.laptop),
        mark(4, 1, &people.second_laptop),
    );
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::AddMark(one.clone())]),
        (&people.second_laptop, vec![Edit::AddMark(two.clone())]),
    );
    assert_eq!(view.marks[2..], [one, two]);
}

#[test]
fn different_fields_of_the_profile_both_hold() {
    let (people, file) = known();
    let renamed = units::Profile {
        name: "Robin".into(),
        ..profile()
    };
    let moved_up = units::Profile {
        year: SchoolYear(4),
        hand: Hand::Right,
        ..profile()
    };
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::SetProfile(renamed)]),
        (&people.second_laptop, vec![Edit::SetProfile(moved_up)]),
    );
    let both = units::Profile {
        name: "Robin".into(),
        year: SchoolYear(4),
        hand: Hand::Right,
        ..profile()
    };
    assert_eq!(view.profile, Some(both));
}

#[test]
fn the_same_field_of_the_profile_goes_by_the_tie_rule() {
    let (people, file) = known();
    let named = |name: &str| {
        Edit::SetProfile(units::Profile {
            name: name.into(),
            ..profile()
        })
    };
    let view = at_once(
        &file,
        (&people.laptop, vec![named("Robin")]),
        (&people.second_laptop, vec![named("Linnet")]),
    );
    let wanted = if higher(&people) { "Robin" } else { "Linnet" };
    assert_eq!(view.profile.unwrap().name, wanted);
}

#[test]
fn whoever_writes_after_having_seen_wins_whatever_the_clock_says() {
    let (people, mut file) = known();
    for (signer, at) in [
        (&people.laptop, 9_000),
        (&people.second_laptop, 10),
        (&people.laptop, 20),
    ] {
        file.write(
            signer,
            Edit::LookAt {
                page: PAGE,
                at: Moment(at),
            },
        )
        .unwrap();
        assert_eq!(file.view().pages[0].looked_at, Some(Moment(at)));
    }
}

#[test]
fn different_fields_of_a_task_both_hold_and_two_tasks_are_both_there() {
    let (people, file) = known();
    let longer = units::Task {
        minutes: 15,
        ..task(1)
    };
    let untold = units::Task {
        text: None,
        ..task(1)
    };
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::SetTask(longer), Edit::SetTask(task(2))],
        ),
        (
            &people.second_laptop,
            vec![Edit::SetTask(untold), Edit::SetTask(task(3))],
        ),
    );
    let both = units::Task {
        minutes: 15,
        text: None,
        ..task(1)
    };
    assert_eq!(view.tasks, [both, task(2), task(3)]);
}

#[test]
fn a_focus_ended_twice_ends_once() {
    let (people, file) = known();
    let end = |day| Edit::EndFocus {
        focus: FocusId([1; 16]),
        on: Day(day),
    };
    let view = at_once(
        &file,
        (&people.laptop, vec![end(20_030)]),
        (&people.second_laptop, vec![end(20_040)]),
    );
    let wanted = if higher(&people) { 20_030 } else { 20_040 };
    assert_eq!(view.focuses[0].to, Some(Day(wanted)));
}

#[test]
fn the_end_of_a_focus_can_be_corrected() {
    let (people, mut file) = known();
    for day in [20_040, 20_030] {
        let end = Edit::EndFocus {
            focus: FocusId([1; 16]),
            on: Day(day),
        };
        file.write(&people.second_laptop, end).unwrap();
        assert_eq!(file.view().focuses[0].to, Some(Day(day)));
    }
}

#[test]
fn two_laptops_start_a_focus_and_both_are_there() {
    let (people, file) = known();
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::StartFocus(focus(2))]),
        (&people.second_laptop, vec![Edit::StartFocus(focus(3))]),
    );
    assert_eq!(view.focuses, [focus(1), focus(2), focus(3)]);
}

#[test]
fn a_mark_removed_while_the_page_is_worked_on_elsewhere_is_gone() {
    let (people, file) = known();
    let new = mark(3, 1, &people.second_laptop);
    let view = at_once(
        &file,
        (&people.laptop, vec![Edit::RemoveMark(MarkId([1; 16]))]),
        (
            &people.second_laptop,
            vec![
                Edit::LookAt {
                    page: PAGE,
                    at: Moment(7),
                },
                Edit::AddMark(new.clone()),
            ],
        ),
    );
    assert_eq!(view.marks, [mark(2, 1, &people.laptop), new]);
    assert_eq!(view.pages[0].looked_at, Some(Moment(7)));
}

/// The first mark, now saying something else.
fn other_words(of: &Mark, words: &str) -> Mark {
    Mark {
        words: words.to_owned(),
        praise: !of.praise,
        aspect: None,
        ..of.clone()
    }
}

#[test]
fn a_mark_changed_by_two_laptops_is_wholly_what_one_of_them_made_it() {
    let (people, mut file) = known();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let first = mark(1, 1, laptop);
    let one = other_words(&first, "This line keeps level.");
    let two = Mark {
        words: "And this one climbs.".into(),
        ..first.clone()
    };
    let view = at_once(
        &file,
        (laptop, vec![Edit::ChangeMark(one.clone())]),
        (second, vec![Edit::ChangeMark(two.clone())]),
    );
    let holds = if higher(&people) { &one } else { &two };
    assert_eq!(view.marks, [holds.clone(), mark(2, 1, laptop)]);
    // Whoever has seen the other's change has the last word; page, moment and maker are not altered.
    let edits = vec![
        (second, Edit::ChangeMark(two)),
        (
            laptop,
            Edit::ChangeMark(Mark {
                page: PageId([9; 16]),
                made_at: Moment(77),
                ..one.clone()
            }),
        ),
    ];
    written(&mut file, edits);
    assert_eq!(file.view().marks[0], one);
    let parents = file.write(&people.phone, Edit::ChangeMark(first));
    assert_eq!(parents, Err(WriteRefused::TutorOnly));
}

#[test]
fn a_mark_removed_while_it_is_changed_elsewhere_is_gone_and_so_are_its_words() {
    let (people, mut file) = known();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let change = || {
        let words = "A sentence thought better of.";
        Edit::ChangeMark(other_words(&mark(1, 1, laptop), words))
    };
    let remove = || Edit::RemoveMark(MarkId([1; 16]));
    let view = at_once(&file, (laptop, vec![remove()]), (second, vec![change()]));
    assert_eq!(view.marks, [mark(2, 1, laptop)]);

    // Founded anew, nothing of them is left, nor brought back by a laptop that had not heard of it.
    let mut late = file.clone();
    written(&mut file, vec![(laptop, change()), (laptop, remove())]);
    let founded = file
        .found_anew(laptop, FoundingId([9; 8]), &[], |_| true)
        .unwrap();
    written(&mut late, vec![(second, change())]);
    accept_all(&mut late, &founded.write);
    let followed = late.settle(second).unwrap();
    assert_eq!(late.view().marks, [mark(2, 1, laptop)]);
    for change in founded.write.iter().chain(&followed.write) {
        let mut windows = change.bytes.windows(10);
        assert!(!windows.any(|bytes| bytes == b"thought be"));
    }
    let again = file.write(laptop, change());
    assert_eq!(again, Err(WriteRefused::Missing("mark")));
}

#[test]
fn a_changed_mark_stays_changed_when_the_books_are_founded_anew_and_goes_with_its_page() {
    let (people, mut file) = known();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let now = other_words(&mark(1, 1, laptop), "Now it says this.");
    let change = file.write(second, Edit::ChangeMark(now.clone())).unwrap();
    // It may come before the mark itself.
    let mut early = people.file();
    early.accept(&change).unwrap();
    assert!(early.view().marks.is_empty());
    let found = |file: &mut CaseFile, id, gone: &[[u8; 16]]| {
        file.found_anew(laptop, FoundingId([id; 8]), gone, |_| true)
            .unwrap()
    };
    found(&mut file, 9, &[]);
    assert_eq!(file.view().marks, [now, mark(2, 1, laptop)]);
    let founded = found(&mut file, 10, &[PAGE.0]);
    assert!(file.view().marks.is_empty());
    for change in &founded.write {
        let mut windows = change.bytes.windows(10);
        assert!(!windows.any(|bytes| bytes == b"Now it say"));
    }
}

#[test]
fn a_change_of_a_mark_that_cannot_be_read_leaves_the_one_before() {
    let (people, mut file) = known();
    let now = other_words(&mark(1, 1, &people.laptop), "Now it says this.");
    file.write(&people.laptop, Edit::ChangeMark(now.clone()))
        .unwrap();
    for (bytes, newer) in [(vec![200, 1, 2, 3], true), (vec![1], false)] {
        let mut file = file.clone();
        let key = format!("remark/{}", now.id);
        let change = written_raw(&key, automerge::ScalarValue::Bytes(bytes));
        file.accept(&change).unwrap();
        let view = file.view();
        assert_eq!((&view.marks[0], view.newer), (&now, newer));
    }
}

#[test]
fn a_mark_removed_twice_is_gone_once() {
    let (people, file) = known();
    let remove = || vec![Edit::RemoveMark(MarkId([1; 16]))];
    let view = at_once(
        &file,
        (&people.laptop, remove()),
        (&people.second_laptop, remove()),
    );
    assert_eq!(view.marks, [mark(2, 1, &people.laptop)]);
}

#[test]
fn a_removal_may_come_before_the_mark() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    let shown = written(
        &mut file,
        vec![
            (laptop, Edit::AddPage(page(1, laptop))),
            (laptop, Edit::AddMark(mark(1, 1, laptop))),
        ],
    );
    let removed = file
        .write(&people.second_laptop, Edit::RemoveMark(MarkId([1; 16])))
        .unwrap();
    let mut late = people.file();
    late.accept(&removed).unwrap();
    accept_all(&mut late, &shown);
    assert!(late.view().marks.is_empty());
    assert_eq!(late.view(), file.view());
}

#[test]
fn practice_taken_back_by_two_at_once_is_gone_and_stays_gone() {
    let (people, mut file) = known();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let noted = |id| (phone, Edit::AddPractised(practised(id)));
    written(&mut file, vec![noted(1), noted(2)]);
    let back = || vec![Edit::DropPractised(PractisedId([1; 16]))];
    let view = at_once(&file, (&people.second_phone, back()), (laptop, back()));
    assert_eq!(view.practised, [practised(2)]);
    // Also once the books are founded anew, for a device that had not heard of it.
    let mut late = file.clone();
    written(&mut file, vec![(phone, back().remove(0))]);
    let founded = file
        .found_anew(laptop, FoundingId([9; 8]), &[], |_| true)
        .unwrap();
    assert_eq!(file.view().practised, [practised(2)]);
    accept_all(&mut late, &founded.write);
    let followed = late.settle(phone).unwrap();
    assert_eq!(late.view().practised, [practised(2)]);
    // What is left is that it was taken back.
    let count = |key: &[u8]| {
        let all = founded.write.iter().chain(&followed.write);
        let all = all.flat_map(|change| change.bytes.windows(key.len()));
        all.filter(|bytes| *bytes == key).count()
    };
    assert!(count(b"unpractised/0101") > 0);
    assert_eq!(count(b"practised/0101"), count(b"unpractised/0101"));
    let again = file.write(phone, back().remove(0));
    assert_eq!(again, Err(WriteRefused::Missing("practice")));
}

#[test]
fn taking_back_may_come_before_the_practice() {
    let people = People::new();
    let mut file = people.file();
    let noted = file
        .write(&people.phone, Edit::AddPractised(practised(1)))
        .unwrap();
    let back = Edit::DropPractised(PractisedId([1; 16]));
    let back = file.write(&people.second_phone, back).unwrap();
    let mut late = people.file();
    late.accept(&back).unwrap();
    late.accept(&noted).unwrap();
    assert!(late.view().practised.is_empty());
    assert_eq!(late.view(), file.view());
}

#[test]
fn marks_and_readings_may_come_before_their_page() {
    let people = People::new();
    let mut file = people.file();
    let page_change = file
        .write(&people.phone, Edit::AddPage(page(1, &people.phone)))
        .unwrap();
    let tutors = written(
        &mut file,
        vec![
            (&people.laptop, Edit::AddMark(mark(1, 1, &people.laptop))),
            (
                &people.laptop,
                Edit::AddReading {
                    page: PAGE,
                    reading: reading(7),
                },
            ),
            (
                &people.laptop,
                Edit::LookAt {
                    page: PAGE,
                    at: Moment(3),
                },
            ),
        ],
    );
    let mut late = people.file();
    accept_all(&mut late, &tutors);
    assert!(late.view().pages.is_empty());
    assert_eq!(late.view().marks.len(), 1);
    late.accept(&page_change).unwrap();
    assert_eq!(late.view(), file.view());
    assert_eq!(late.view().pages[0].readings.len(), 2);
}

#[test]
fn both_measure_a_page_and_both_readings_are_kept_in_order() {
    let (people, file) = known();
    let add = |id| {
        vec![Edit::AddReading {
            page: PAGE,
            reading: reading(id),
        }]
    };
    let view = at_once(&file, (&people.laptop, add(7)), (&people.phone, add(4)));
    // At the same logical time the moment decides: reading 4 was made before 7.
    assert_eq!(view.pages[0].readings, [reading(1), reading(4), reading(7)]);
}

#[test]
fn a_reading_made_after_having_seen_another_is_the_last_even_if_a_clock_is_slow() {
    let (people, mut file) = known();
    let slow = units::ReadingRecord {
        made_at: Moment(5),
        ..reading(9)
    };
    file.write(
        &people.laptop,
        Edit::AddReading {
            page: PAGE,
            reading: slow.clone(),
        },
    )
    .unwrap();
    assert_eq!(file.view().pages[0].readings.last(), Some(&slow));
}

#[test]
fn corrected_text_against_corrected_text_goes_to_the_tutor() {
    let (people, file) = known();
    let set = |words: &str| {
        vec![Edit::SetText {
            page: PAGE,
            text: Some(vec![words.into()]),
        }]
    };
    let view = at_once(
        &file,
        (&people.phone, set("at home")),
        (&people.laptop, set("at work")),
    );
    assert_eq!(view.pages[0].text, Some(vec!["at work".into()]));
    // A parent who has seen the tutor's text may correct it.
    let mut file = file;
    written(
        &mut file,
        vec![
            (&people.laptop, set("at work").remove(0)),
            (&people.second_phone, set("at home again").remove(0)),
        ],
    );
    assert_eq!(
        file.view().pages[0].text,
        Some(vec!["at home again".into()])
    );
}

#[test]
fn text_corrected_while_the_page_is_measured_again_keeps_both() {
    let (people, file) = known();
    let view = at_once(
        &file,
        (
            &people.phone,
            vec![Edit::SetText {
                page: PAGE,
                text: None,
            }],
        ),
        (
            &people.laptop,
            vec![Edit::AddReading {
                page: PAGE,
                reading: reading(8),
            }],
        ),
    );
    assert_eq!(view.pages[0].text, None);
    assert_eq!(view.pages[0].readings, [reading(1), reading(8)]);
}

#[test]
fn one_id_brought_by_two_devices_shows_one_page() {
    let (people, file) = known();
    // The tutor's book goes first.
    let view = at_once(
        &file,
        (&people.phone, vec![Edit::AddPage(page(5, &people.phone))]),
        (&people.laptop, vec![Edit::AddPage(page(5, &people.laptop))]),
    );
    assert_eq!(
        view.page(PageId([5; 16])).unwrap().added_by,
        people.laptop.device()
    );
    // Within a book the lower device id.
    let view = at_once(
        &file,
        (&people.phone, vec![Edit::AddPage(page(5, &people.phone))]),
        (
            &people.second_phone,
            vec![Edit::AddPage(page(5, &people.second_phone))],
        ),
    );
    let lower = people.phone.device().min(people.second_phone.device());
    assert_eq!(view.page(PageId([5; 16])).unwrap().added_by, lower);
}
