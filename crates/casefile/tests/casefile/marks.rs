//! Marks that are changed and removed, and what is left of them.

use casefile::{CaseFile, Edit, FoundingId, WriteRefused};
use units::{Mark, MarkId, Moment, PageId};

use crate::fixtures::*;
use crate::merging::known;

const PAGE: PageId = PageId([1; 16]);

/// The device whose write holds where two laptops write at the same logical time.
fn higher(people: &People) -> bool {
    people.laptop.device() > people.second_laptop.device()
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
