//! How much one document holds: more than years of honest work, and no more for everybody alike.

use casefile::{
    BookKind, CaseFile, DocId, Edit, MAX_DOCUMENT_BYTES, MAX_DOCUMENT_CHANGES, Refused,
    SignedChange, Signer, WriteRefused,
};
use units::{MarkId, Mm, PageId, PointMm};

use crate::fixtures::*;

/// A change that only a newer version reads; of its bytes nothing is asked but how many they are.
fn unread(doc: DocId, seq: u64, bytes: usize) -> SignedChange {
    SignedChange {
        doc,
        seq,
        format: 2,
        bytes: vec![0; bytes],
        signature: [0; 64],
    }
}

/// A file in which a document has so many such changes, as from the disk.
fn filled(log: &[SignedChange], doc: DocId, after: u64, count: u64, bytes: usize) -> CaseFile {
    let changes = (1..=count).map(|number| unread(doc, after + number, bytes));
    CaseFile::of_kept(pupil(), log.iter().cloned().chain(changes).collect())
}

fn next(secret: u8, doc: DocId, seq: u64, bytes: usize) -> SignedChange {
    sign_as(2, secret, doc, seq, vec![1; bytes])
}

#[test]
fn a_document_takes_so_many_changes() {
    let people = People::new();
    let id = doc(BookKind::Home, &people.phone);
    let most = MAX_DOCUMENT_CHANGES;
    let mut file = filled(&people.log(), id, 0, most - 1, 1);
    let last = next(3, id, most, 1);
    file.accept(&last).unwrap();
    let more = next(3, id, most + 1, 1);
    assert_eq!(file.accept(&more), Err(Refused::DocumentFull));
    // Known ones stay known, and the others go on.
    assert!(file.accept(&last).is_ok());
    let refused = file.write(&people.phone, Edit::AddPage(page(1, &people.phone)));
    assert_eq!(refused, Err(WriteRefused::DocumentFull));
    file.write(
        &people.second_phone,
        Edit::AddPage(page(1, &people.second_phone)),
    )
    .unwrap();
}

#[test]
fn a_document_takes_so_many_bytes() {
    let people = People::new();
    let id = doc(BookKind::Home, &people.phone);
    let large = 1 << 20;
    let count = MAX_DOCUMENT_BYTES / large as u64;
    let mut file = filled(&people.log(), id, 0, count - 1, large);
    assert_eq!(
        file.clone()
            .write(&people.phone, Edit::TakePageOut(PageId([1; 16]))),
        Err(WriteRefused::Missing("page"))
    );
    file.accept(&next(3, id, count, large - 1)).unwrap();
    let over = next(3, id, count + 1, 2);
    assert_eq!(file.accept(&over), Err(Refused::DocumentFull));
    file.accept(&next(3, id, count + 1, 1)).unwrap();
}

#[test]
fn a_seed_takes_up_nobodys_room() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    file.write(laptop, Edit::SetProfile(profile())).unwrap();
    let founded = found(&mut file, laptop, 5, &[]).write;
    let log = [people.log(), founded].concat();
    let id = log.last().unwrap().doc;
    let most = MAX_DOCUMENT_CHANGES;
    let mut file = filled(&log, id, 1, most - 1, 1);
    file.accept(&next(1, id, most + 1, 1)).unwrap();
    let more = next(1, id, most + 2, 1);
    assert_eq!(file.accept(&more), Err(Refused::DocumentFull));
}

/// A long stroke of the pen.
fn stroke(number: u32, page: PageId, by: &Signer) -> units::Mark {
    let point = |at: u32| PointMm {
        x: Mm(f64::from(at) * 0.37),
        y: Mm(f64::from(at % 17) * 0.83),
    };
    let mut id = [3; 16];
    id[..4].copy_from_slice(&number.to_le_bytes());
    units::Mark {
        id: MarkId(id),
        page,
        shape: units::MarkShape::Pen {
            points: (0..120).map(point).collect(),
        },
        ..mark(1, 1, by)
    }
}

/// Ten years of four pages a week, each looked at, with six strokes and four letters put right, all of it
/// on one device that adds the pages and measures them twice, ten times over.
#[test]
fn ten_years_of_work_on_one_device_fit_tenfold() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    let (mut changes, mut bytes) = (0_u64, 0_u64);
    let mut number = 0;
    for week in 0..2_u8 {
        for page_of_week in 0..4_u8 {
            let id = 10 + week * 4 + page_of_week;
            let mut added = page(id, laptop);
            let all = units::MeasureName::ALL.iter();
            added.readings[0].measures = all
                .map(|name| units::Measure {
                    name: *name,
                    ..added.readings[0].measures[0].clone()
                })
                .collect();
            let page = added.id;
            let mut edits = vec![
                Edit::AddPage(added),
                Edit::LookAt {
                    page,
                    at: units::Moment(1_700_000_000_000),
                },
                Edit::AddReading {
                    page,
                    reading: reading(100 + id),
                },
            ];
            for _ in 0..6 {
                number += 1;
                edits.push(Edit::AddMark(stroke(number, page, laptop)));
            }
            for at in 0..4 {
                let mut amended = amendment(at, id, laptop);
                amended.id.0[0] = number as u8;
                amended.id.0[1] = 200;
                edits.push(Edit::Amend(amended));
            }
            for edit in edits {
                changes += 1;
                bytes += file.write(laptop, edit).unwrap().bytes.len() as u64;
            }
        }
    }
    let years = 10 * 52 / 2;
    let (changes, bytes) = (changes * years, bytes * years);
    println!("ten years: {changes} changes, {bytes} bytes");
    assert!(changes * 10 <= MAX_DOCUMENT_CHANGES, "{changes}");
    assert!(bytes * 10 <= MAX_DOCUMENT_BYTES, "{bytes}");
}
