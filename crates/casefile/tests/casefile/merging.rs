//! What comes of writing after having seen, and of what comes before that to which it belongs. What comes of every
//! two edits made at once stands in `pairs`.

use casefile::{CaseFile, Edit, FoundingId, WriteRefused};
use units::{Day, FocusId, Moment, PageId, PractisedId};

use crate::fixtures::*;

const PAGE: PageId = PageId([1; 16]);

/// A pupil with a profile, a task, a page, two marks and a focus, which everybody has seen.
pub fn known() -> (People, CaseFile) {
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
