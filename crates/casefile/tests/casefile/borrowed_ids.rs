//! Ids are nobody's: a parent's device may write what it likes under an id that is another record's, and
//! takes nothing away by it.

use automerge::transaction::Transactable;
use automerge::{ROOT, ScalarValue};
use casefile::{CaseFile, Edit, PupilView};
use proptest::prelude::*;
use units::{MarkId, PageId, Practised, PractisedId, Reply, ReplyId};

use crate::fixtures::*;

/// Ids of the two pages, and of a mark on the second, a focus and a task.
const PAGES: [u8; 2] = [1, 2];
const MARK: u8 = 7;
const FOCUS: u8 = 8;
const TASK: u8 = 3;

fn known(people: &People) -> CaseFile {
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    written(
        &mut file,
        vec![
            (phone, Edit::AddPage(page(PAGES[0], phone))),
            (phone, Edit::AddPage(page(PAGES[1], phone))),
            (laptop, Edit::AddMark(mark(MARK, PAGES[1], laptop))),
            (laptop, Edit::StartFocus(focus(FOCUS))),
            (laptop, Edit::SetTask(task(TASK))),
        ],
    );
    file
}

fn about_the_first(id: u8, phone: &casefile::Signer) -> Edit {
    Edit::AddReply(Reply {
        id: ReplyId([id; 16]),
        mark: None,
        ..reply(1, PAGES[0], phone)
    })
}

fn without_the_first(mut view: PupilView) -> PupilView {
    view.pages.retain(|page| page.id != PageId([PAGES[0]; 16]));
    view.replies
        .retain(|reply| reply.page != PageId([PAGES[0]; 16]));
    view
}

#[test]
fn replies_under_ids_of_the_tutors_records_take_nothing_with_them() {
    let people = People::new();
    let mut file = known(&people);
    for id in [MARK, FOCUS, TASK, PAGES[1]] {
        file.write(&people.phone, about_the_first(id, &people.phone))
            .unwrap();
    }
    let wanted = without_the_first(file.view());
    found(&mut file, &people.laptop, 5, &[[PAGES[0]; 16]]);
    assert_eq!(file.view(), wanted);
    let all = (wanted.pages.len(), wanted.marks.len(), wanted.focuses.len());
    assert_eq!((all, wanted.tasks.len()), ((1, 1, 1), 1));
}

#[test]
fn nor_do_they_where_the_page_has_gone_before() {
    let people = People::new();
    let mut file = known(&people);
    found(&mut file, &people.laptop, 5, &[[PAGES[0]; 16]]);
    let wanted = file.view();
    let late = by_hand(5, |change| {
        for id in [MARK, FOCUS, TASK, PAGES[1]] {
            for head in ["reply", "practised", "mark", "amend", "by"] {
                let key = format!("{head}/{}", format!("{id:02x}").repeat(16));
                let value = ScalarValue::Bytes(vec![PAGES[0]; 16]);
                change.put(ROOT, key, value).unwrap();
            }
        }
    });
    file.accept(&late).unwrap();
    assert_eq!(file.view().marks, wanted.marks);
    assert!(!file.owes_founding());
    found(&mut file, &people.laptop, 6, &[]);
    assert_eq!(file.view(), wanted);
}

#[test]
fn a_mark_that_goes_takes_its_removal_along_all_the_same() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = known(&people);
    let gone = MarkId([0x77; 16]);
    file.write(laptop, Edit::AddMark(mark(0x77, PAGES[0], laptop)))
        .unwrap();
    file.write(laptop, Edit::RemoveMark(gone)).unwrap();
    file.write(phone, about_the_first(0x66, phone)).unwrap();
    let settled = found(&mut file, laptop, 5, &[[PAGES[0]; 16]]);
    for id in [[0x77; 16], [0x66; 16]] {
        let hex: String = id.iter().map(|byte| format!("{byte:02x}")).collect();
        for change in &settled.write[1..] {
            let mut windows = change.bytes.windows(hex.len());
            assert!(!windows.any(|window| window == hex.as_bytes()), "{hex}");
        }
    }
}

#[test]
fn taking_out_a_page_under_a_borrowed_id_takes_out_that_page_alone() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = known(&people);
    let answered = Practised {
        id: PractisedId([0x55; 16]),
        ..practised(1)
    };
    let second = &people.second_phone;
    file.write(second, Edit::AddPractised(answered)).unwrap();
    let before = file.view();
    let taken = by_hand(0, |change| {
        for id in [MARK, FOCUS, TASK, 0x55] {
            let hex = format!("{id:02x}").repeat(16);
            change
                .put(ROOT, format!("gone/{hex}"), ScalarValue::Boolean(true))
                .unwrap();
        }
    });
    // Only taken out, and with a page there.
    for with_pages in [false, true] {
        let mut file = file.clone();
        let mut phones = file.clone();
        if with_pages {
            for id in [MARK, FOCUS, TASK, 0x55] {
                let forged = page(id, phone);
                let forged = phones.write(phone, Edit::AddPage(forged)).unwrap();
                file.accept(&forged).unwrap();
                let out = Edit::TakePageOut(PageId([id; 16]));
                file.accept(&phones.write(phone, out).unwrap()).unwrap();
            }
            assert_eq!(file.view(), before);
        }
        let settled = found(&mut file, laptop, 5, &[]);
        assert_eq!(file.view(), before);
        assert!(file.standing().forgotten.is_empty());
        if with_pages {
            let picture = page(MARK, phone).picture.0;
            let mut seed = settled.write.iter();
            assert!(!seed.any(|change| change.bytes.windows(32).any(|part| part == picture)));
        }
    }
    // A change made by hand has no predecessor here, so it goes into a file of its own.
    let mut alone = people.file();
    written(
        &mut alone,
        vec![
            (laptop, Edit::AddPage(page(PAGES[1], laptop))),
            (laptop, Edit::AddMark(mark(MARK, PAGES[1], laptop))),
        ],
    );
    alone.accept(&taken).unwrap();
    let before = alone.view();
    found(&mut alone, laptop, 5, &[]);
    assert_eq!(alone.view(), before);
    assert_eq!(before.marks.len(), 1);
}

#[test]
fn two_makers_of_records_with_one_id_are_told_apart_and_stop_nobody() {
    let people = People::new();
    let (laptop, phone, second) = (&people.laptop, &people.phone, &people.second_phone);
    let mut file = people.file();
    let edits = vec![
        (laptop, Edit::AddPage(page(PAGES[0], laptop))),
        (second, Edit::AddPage(page(PAGES[1], second))),
        (laptop, Edit::AddMark(mark(MARK, PAGES[1], laptop))),
        (phone, about_the_first(PAGES[0], phone)),
        (phone, about_the_first(PAGES[1], phone)),
        (phone, about_the_first(MARK, phone)),
    ];
    let all = written(&mut file, edits);
    let before = file.view();
    let mut other = people.file();
    other.accept_all(&all);
    let founded = found(&mut file, laptop, 5, &[]);
    assert!(other.accept_all(&founded.write).iter().all(Result::is_ok));
    other.settle(phone).unwrap();
    assert_eq!(file.view(), before);
    assert_eq!(other.view(), before);
}

#[test]
fn a_parents_device_does_not_speak_for_the_tutor_by_way_of_the_tutors() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let mut file = people.file();
    let edits = vec![
        (laptop, Edit::SetProfile(profile())),
        (laptop, Edit::SetTask(task(TASK))),
        (laptop, Edit::AddPage(page(PAGES[0], laptop))),
        (laptop, Edit::AddMark(mark(MARK, PAGES[0], laptop))),
    ];
    let all = written(&mut file, edits);
    let mut other = people.file();
    other.accept_all(&all);
    other
        .write(second, Edit::AddPage(page(PAGES[1], second)))
        .unwrap();
    let before = other.view();
    // The second laptop alone hears of it, and carries over what is late.
    let late = by_hand(0, |change| {
        let task = format!("task/{}/text", format!("{TASK:02x}").repeat(16));
        for key in ["profile/name", task.as_str()] {
            change.put(ROOT, key, "Mine").unwrap();
            change
                .put(ROOT, format!("{key}@"), ScalarValue::Uint(1_000))
                .unwrap();
        }
        let unmark = format!("unmark/{}", format!("{MARK:02x}").repeat(16));
        change
            .put(ROOT, unmark, ScalarValue::Boolean(true))
            .unwrap();
        change.put(ROOT, "voice/1", "not known here").unwrap();
        // Nor does a record of its own go before the tutor's because it bears a time.
        let page = format!("page/{}", format!("{:02x}", PAGES[1]).repeat(16));
        change
            .put(ROOT, format!("{page}@"), ScalarValue::Uint(1_000))
            .unwrap();
        change
            .put(ROOT, page, ScalarValue::Bytes(vec![2; 40]))
            .unwrap();
    });
    other.accept(&late).unwrap();
    let founded = found(&mut file, laptop, 5, &[]);
    other.accept_all(&founded.write);
    let carried = other.settle(second).unwrap();
    assert_eq!(carried.write.len(), 1);
    assert_eq!(other.view(), before);
    assert_eq!(before.pages.len(), 2);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]

    /// A phone borrows ids as it likes; the tutor forgets the first page. In whatever order things come,
    /// everybody sees the same, and whatever does not name that page is there.
    #[test]
    fn whatever_is_borrowed_all_see_the_same_and_nothing_else_goes(
        borrowed in prop::collection::vec((1..10_u8, 0..3_u8, 1..3_u8), 1..12),
        order in any::<u64>(),
    ) {
        let people = People::new();
        let (laptop, phone) = (&people.laptop, &people.phone);
        let mut file = people.file();
        let edits = vec![
            (laptop, Edit::AddPage(page(PAGES[0], laptop))),
            (laptop, Edit::AddPage(page(PAGES[1], laptop))),
            (laptop, Edit::AddMark(mark(MARK, PAGES[1], laptop))),
            (laptop, Edit::StartFocus(focus(FOCUS))),
            (laptop, Edit::SetTask(task(TASK))),
        ];
        let honest = written(&mut file, edits);
        let mut all = honest.clone();
        for (id, what, about) in borrowed {
            let edit = match what {
                0 => Edit::AddReply(Reply {
                    id: ReplyId([id; 16]),
                    mark: Some(MarkId([MARK; 16])),
                    ..reply(1, about, phone)
                }),
                1 => Edit::AddPractised(Practised { id: PractisedId([id; 16]), ..practised(1) }),
                _ => Edit::AddPage(page(id, phone)),
            };
            all.extend(file.write(phone, edit));
        }
        let founded = found(&mut file, laptop, 5, &[[PAGES[0]; 16]]);
        // The log alone, with the documents of before: nothing but what names the page is hidden.
        let hear = |by: u64| {
            let mut other = people.file();
            other.accept(&founded.write[0]).unwrap();
            for change in shuffled(&all, by).into_iter().chain(all.clone()) {
                let _ = other.accept(&change);
            }
            for change in &all {
                let _ = other.accept(change);
            }
            other
        };
        let (one, two) = (hear(order), hear(order ^ 1));
        prop_assert_eq!(one.view(), two.view());
        for view in [one.view(), file.view()] {
            prop_assert!(view.page(PageId([PAGES[1]; 16])).is_some());
            prop_assert!(view.page(PageId([PAGES[0]; 16])).is_none());
            prop_assert_eq!((view.marks.len(), view.focuses.len(), view.tasks.len()), (1, 1, 1));
        }
        prop_assert_eq!(one.view(), file.view());
    }
}
