//! What a newer version of the program writes is kept, and what is known of it is shown.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ROOT, ScalarValue};
use casefile::{BookKind, Edit, WriteRefused};

use crate::fixtures::*;

const SECOND_LAPTOP: u8 = 2;

#[test]
fn newer_records_and_fields_are_taken_and_the_rest_stays_shown() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(profile())),
            (laptop, Edit::AddPage(page(1, laptop))),
        ],
    );
    let id = doc(BookKind::Tutor, &people.second_laptop);
    let bytes = raw_change(
        &mut raw_document(&id),
        CommitOptions::default().with_time(0),
        |change| {
            change.put(ROOT, "schema", ScalarValue::Uint(2)).unwrap();
            change.put(ROOT, "stamp", ScalarValue::Uint(50)).unwrap();
            // A field whose new choice is not known here, a known field, a new key, a new record.
            change
                .put(ROOT, "profile/hand", ScalarValue::Uint(77))
                .unwrap();
            change
                .put(ROOT, "profile/hand@", ScalarValue::Uint(50))
                .unwrap();
            change.put(ROOT, "profile/name", "Robin").unwrap();
            change
                .put(ROOT, "profile/name@", ScalarValue::Uint(50))
                .unwrap();
            change.put(ROOT, "voice/1", "not known here").unwrap();
            let mark = format!("mark/{}", "07".repeat(16));
            change
                .put(ROOT, mark, ScalarValue::Bytes(vec![2, 9, 9]))
                .unwrap();
        },
    );
    file.accept(&sign(SECOND_LAPTOP, id, 1, bytes)).unwrap();
    let view = file.view();
    assert!(view.newer);
    let shown = units::Profile {
        name: "Robin".into(),
        ..profile()
    };
    assert_eq!(view.profile, Some(shown));
    assert_eq!(view.pages, [page(1, laptop)]);
    assert!(view.marks.is_empty());

    // This older program writes on in its own document, but not in one that is newer than itself.
    file.write(laptop, Edit::AddMark(mark(1, 1, laptop)))
        .unwrap();
    let refused = file.write(&people.second_laptop, Edit::SetTask(task(1)));
    assert_eq!(refused, Err(WriteRefused::Newer));
    assert_eq!(file.have()[&id], 1);
}

#[test]
fn a_newer_record_alone_is_told_of_too() {
    let people = People::new();
    let id = doc(BookKind::Tutor, &people.second_laptop);
    let bytes = raw_change(
        &mut raw_document(&id),
        CommitOptions::default().with_time(0),
        |change| {
            let focus = format!("focus/{}", "07".repeat(16));
            change
                .put(ROOT, focus, ScalarValue::Bytes(vec![2, 9, 9]))
                .unwrap();
        },
    );
    let mut file = people.file();
    file.accept(&sign(SECOND_LAPTOP, id, 1, bytes)).unwrap();
    assert!(file.view().newer);
}

#[test]
fn what_a_newer_version_writes_in_another_format_is_kept_checked_and_passed_on_unopened() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    let mut kept = people.log();
    kept.push(file.write(phone, Edit::AddPage(page(1, phone))).unwrap());
    let before = file.view();
    let id = doc(BookKind::Home, phone);
    let newer = sign_as(
        2,
        3,
        id,
        2,
        b"packed in a way that is not known here".to_vec(),
    );
    // What follows it in the old format rests on what cannot be read.
    let after = sign(3, id, 3, b"whatever".to_vec());
    for change in [&newer, &after] {
        assert_eq!(file.accept(change), Ok(casefile::Accepted::New));
        assert_eq!(file.accept(change), Ok(casefile::Accepted::Known));
        kept.push(change.clone());
    }
    // The last state that is understood is shown, and it is said that there is more.
    let mut wanted = before;
    wanted.newer = true;
    assert_eq!(file.view(), wanted);
    assert_eq!(file.have()[&id], 3);
    // Bent, or under another number, it is refused like any other.
    let mut bent = newer.clone();
    bent.bytes[0] ^= 1;
    assert_eq!(
        people.file().accept(&bent),
        Err(casefile::Refused::BadSignature)
    );
    // Passed on as bytes, and opened again from the disk, it is the same.
    let passed: Vec<_> = kept
        .iter()
        .map(|change| casefile::SignedChange::decode(&change.encode()).unwrap())
        .collect();
    assert_eq!(passed, kept);
    let again = casefile::CaseFile::of_kept(file.pupil(), passed.clone());
    assert_eq!((again.view(), again.have()), (wanted.clone(), file.have()));
    let mut other = casefile::CaseFile::new(file.pupil());
    assert!(other.accept_all(&passed).iter().all(Result::is_ok));
    assert_eq!(other.view(), wanted);
    // The older program on that very device writes nothing over it; others go on.
    let refused = file.write(phone, Edit::AddPage(page(2, phone)));
    assert_eq!(refused, Err(WriteRefused::Newer));
    file.write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    let refused = file.found_anew(&people.laptop, casefile::FoundingId([9; 8]), &[], all_held);
    assert_eq!(
        refused,
        Err(WriteRefused::Newer),
        "nothing unread is left behind"
    );
}
