//! What is written in time and comes late: it is judged by what it is, and readings by what is held.

use casefile::{Edit, FoundingId, Settled};
use units::{BlobId, Moment, PageId, Practised, ReadingId, ReadingRecord, TaskId};

use crate::fixtures::*;

const PAGE: u8 = 0xC0;
const TASK: u8 = 0xA9;

fn page_id() -> PageId {
    PageId([PAGE; 16])
}

#[test]
fn a_page_is_kept_whose_task_was_forgotten_before_it_came() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut desk = people.file();
    let set = desk.write(laptop, Edit::SetTask(task(TASK))).unwrap();
    let mut home = people.file();
    home.accept(&set).unwrap();
    let answers = units::PageRecord {
        task: Some(TaskId([TASK; 16])),
        ..page(PAGE, phone)
    };
    let done = Practised {
        task: Some(TaskId([TASK; 16])),
        ..practised(0xE0)
    };
    home.write(phone, Edit::AddPage(answers.clone())).unwrap();
    home.write(phone, Edit::AddPractised(done.clone())).unwrap();
    // A year is over at the desk, which has heard nothing of the page.
    let founded = found(&mut desk, laptop, 5, &[[TASK; 16]]);
    home.accept_all(&founded.write);
    let settled = home.settle(phone).unwrap();
    assert_eq!(settled.dropped, 0);
    desk.accept_all(&settled.write);
    for file in [&home, &desk] {
        let view = file.view();
        assert_eq!(view.pages, std::slice::from_ref(&answers));
        assert_eq!(view.practised, std::slice::from_ref(&done));
        assert!(view.tasks.is_empty() && !file.owes_founding());
    }
    // Forgotten by its own id it goes.
    found(&mut desk, laptop, 6, &[[PAGE; 16], [0xE0; 16]]);
    let view = desk.view();
    assert!(view.pages.is_empty() && view.practised.is_empty());
}

fn measured(id: u8, at: i64) -> ReadingRecord {
    ReadingRecord {
        id: ReadingId([id; 16]),
        made_at: Moment(1_700_000_000_000 + at),
        detail: BlobId([id; 32]),
        ..reading(id)
    }
}

/// Readings 1 to 4 of a page, and what is left of them if just these are held.
fn left(held: &[u8]) -> (Vec<u8>, Settled) {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    let added = units::PageRecord {
        readings: vec![measured(1, 1)],
        ..page(PAGE, phone)
    };
    let mut edits = vec![(phone, Edit::AddPage(added))];
    for id in 2..=4 {
        let reading = measured(id, i64::from(id));
        let page = page_id();
        edits.push((phone, Edit::AddReading { page, reading }));
    }
    written(&mut file, edits);
    let holds = |id: BlobId| held.contains(&id.0[0]);
    let settled = file.found_anew(&people.laptop, FoundingId([5; 8]), &[], holds);
    let view = file.view();
    let readings = view.page(page_id()).unwrap().readings.iter();
    (
        readings.map(|reading| reading.detail.0[0]).collect(),
        settled.unwrap(),
    )
}

#[test]
fn a_reading_is_left_behind_once_a_newer_one_is_held() {
    for (held, wanted) in [
        (&[1, 2, 3, 4][..], &[4][..]),
        // The newest is yet to come: what is held stays with it.
        (&[1, 2, 3], &[3, 4]),
        (&[2], &[2, 3, 4]),
        (&[1, 4], &[4]),
        // Nothing is held, so nothing replaces anything.
        (&[], &[1, 2, 3, 4]),
    ] {
        let (left, settled) = left(held);
        assert_eq!(left, wanted, "held {held:?}");
        let named = |id: u8| {
            let mut seed = settled.write[1..].iter();
            seed.any(|change| change.bytes.windows(32).any(|part| part == [id; 32]))
        };
        assert_eq!((1..=4).filter(|id| named(*id)).collect::<Vec<_>>(), wanted);
    }
}
