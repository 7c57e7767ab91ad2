//! A member's device that signs well and sends ill: what it writes is refused or has no effect
//! outside its own document.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ObjType, ROOT, ScalarValue};
use casefile::{BookKind, CaseFile, Edit, Refused};

use crate::fixtures::*;

const PHONE: u8 = 3;

fn plain() -> CommitOptions {
    CommitOptions::default().with_time(0)
}

/// What becomes of these bytes as the phone's first change.
fn first(bytes: Vec<u8>) -> Result<CaseFile, Refused> {
    let people = People::new();
    let mut file = people.file();
    let change = sign(PHONE, doc(BookKind::Home, &people.phone), 1, bytes);
    match file.accept(&change) {
        Ok(_) => Ok(file),
        Err(refused) => {
            assert!(books(&file).is_empty());
            Err(refused)
        }
    }
}

fn home() -> Automerge {
    raw_document(&doc(BookKind::Home, &People::new().phone))
}

fn bad(result: Result<CaseFile, Refused>) -> bool {
    matches!(result, Err(Refused::BadChange(_)))
}

#[test]
fn an_ordinary_change_made_by_hand_is_taken() {
    let bytes = raw_change(&mut home(), plain(), |change| {
        change.put(ROOT, "schema", ScalarValue::Uint(1)).unwrap();
    });
    assert!(first(bytes).is_ok());
}

#[test]
fn changes_that_do_more_than_set_values_are_refused() {
    assert!(bad(first(raw_change(&mut home(), plain(), |change| {
        change.put_object(ROOT, "nest", ObjType::Map).unwrap();
    }))));
    assert!(bad(first(raw_change(&mut home(), plain(), |change| {
        let text = change.put_object(ROOT, "text", ObjType::Text).unwrap();
        change.splice_text(&text, 0, 0, "words").unwrap();
    }))));
    let mut document = home();
    let one = raw_change(&mut document, plain(), |change| {
        change.put(ROOT, "a", 1).unwrap()
    });
    let two = raw_change(&mut document, plain(), |change| {
        change.delete(ROOT, "a").unwrap()
    });
    let people = People::new();
    let mut file = people.file();
    let id = doc(BookKind::Home, &people.phone);
    file.accept(&sign(PHONE, id, 1, one)).unwrap();
    let refused = file.accept(&sign(PHONE, id, 2, two));
    assert!(matches!(refused, Err(Refused::BadChange(_))));
    assert_eq!(books(&file), [(id, 1)].into());
}

#[test]
fn clocks_messages_and_other_actors_are_refused() {
    let put = |change: &mut automerge::transaction::Transaction<'_>| {
        change.put(ROOT, "a", 1).unwrap();
    };
    assert!(bad(first(raw_change(
        &mut home(),
        plain().with_time(1_700_000_000),
        put
    ))));
    assert!(bad(first(raw_change(
        &mut home(),
        plain().with_message("hello"),
        put
    ))));
    let mut other = Automerge::new().with_actor(ActorId::from([9; 16]));
    assert!(bad(first(raw_change(&mut other, plain(), put))));
}

#[test]
fn a_change_that_rests_on_another_past_is_refused() {
    let people = People::new();
    let id = doc(BookKind::Home, &people.phone);
    let put = |change: &mut automerge::transaction::Transaction<'_>, value: i64| {
        change.put(ROOT, "a", value).unwrap();
    };
    let (mut document, mut fork) = (home(), home());
    let one = raw_change(&mut document, plain(), |change| put(change, 1));
    raw_change(&mut fork, plain(), |change| put(change, 2));
    let two = raw_change(&mut fork, plain(), |change| put(change, 3));
    let three = raw_change(&mut fork, plain(), |change| put(change, 4));
    let mut file = people.file();
    file.accept(&sign(PHONE, id, 1, one)).unwrap();
    for bytes in [two, three] {
        let refused = file.accept(&sign(PHONE, id, 2, bytes));
        assert!(matches!(refused, Err(Refused::BadChange(_))));
    }
}

#[test]
fn bytes_that_unpack_to_more_are_refused_unopened() {
    let mut document = home();
    raw_change(&mut document, plain(), |change| {
        change.put(ROOT, "a", "x".repeat(100_000)).unwrap();
    });
    let mut change = document.get_last_local_change().unwrap();
    let compressed = change.bytes().into_owned();
    assert!(compressed.len() < 1_000);
    assert!(bad(first(compressed)));
    assert!(bad(first(document.save())));
}

#[test]
fn a_run_of_a_trillion_operations_is_refused_uncounted() {
    // The same key set to null, 2^40 times over, in 80 bytes.
    let run = [0x80, 0x80, 0x80, 0x80, 0x80, 0x20]; // 2^40 as LEB128
    let repeated = |value: &[u8]| [&run, value].concat();
    let columns = [
        (0x15, repeated(&[1, b'a'])), // key
        (0x34, run.to_vec()),         // insert: no
        (0x42, repeated(&[1])),       // action: put
        (0x56, repeated(&[0])),       // value: null
        (0x70, repeated(&[0])),       // nothing written over
    ];
    let mut body = vec![0, 16]; // no deps
    body.extend(home().get_actor().to_bytes());
    body.extend([1, 1, 0, 0, 0, columns.len() as u8]); // seq, start op, time, message, actors
    for (kind, data) in &columns {
        body.extend([*kind, data.len() as u8]);
    }
    for (_, data) in &columns {
        body.extend(data);
    }
    let mut chunk = vec![0x85, 0x6f, 0x4a, 0x83, 0, 0, 0, 0, 1, body.len() as u8];
    chunk.extend(body);
    assert!(bad(first(chunk)));
}

#[test]
fn cut_and_bent_bytes_never_panic() {
    let people = People::new();
    let whole = people
        .file()
        .write(&people.phone, Edit::AddPage(page(1, &people.phone)))
        .unwrap()
        .bytes;
    for length in 0..whole.len() {
        assert!(first(whole[..length].to_vec()).is_err());
    }
    for at in 0..whole.len() {
        for bit in 0..8 {
            let mut bent = whole.clone();
            bent[at] ^= 1 << bit;
            // The checksum finds every single bit out.
            assert!(first(bent).is_err(), "byte {at}, bit {bit}");
        }
    }
}

#[test]
fn a_parent_cannot_speak_for_the_tutor() {
    let bytes = raw_change(&mut home(), plain(), |change| {
        let id = "01".repeat(16);
        for key in [
            "profile/name",
            "task/x/set_on",
            "focus_end/x",
            "note/x",
            "order",
        ] {
            change.put(ROOT, key, "mine").unwrap();
            change
                .put(ROOT, format!("{key}@"), ScalarValue::Uint(u64::MAX))
                .unwrap();
        }
        change.put(ROOT, format!("looked/{id}"), 5).unwrap();
        // In a newer version's form, so that a reader who believed it would say so.
        let (key, remark) = (format!("remark/{id}"), ScalarValue::Bytes(vec![200, 2, 3]));
        change
            .put(ROOT, format!("{key}@"), ScalarValue::Uint(9))
            .unwrap();
        change.put(ROOT, key, remark).unwrap();
        for gone in ["unmark", "unamend"] {
            change.put(ROOT, format!("{gone}/{id}"), true).unwrap();
        }
        change
            .put(
                ROOT,
                format!("mark/{id}"),
                ScalarValue::Bytes(vec![1, 2, 3]),
            )
            .unwrap();
    });
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    written(
        &mut file,
        vec![
            (laptop, Edit::SetProfile(profile())),
            (laptop, Edit::AddPage(page(1, laptop))),
            (laptop, Edit::AddMark(mark(1, 1, laptop))),
            (laptop, Edit::Amend(amendment(1, 1, laptop))),
        ],
    );
    let before = file.view();
    file.accept(&sign(PHONE, doc(BookKind::Home, &people.phone), 1, bytes))
        .unwrap();
    assert_eq!(file.view(), before);
}

#[test]
fn records_out_of_bounds_are_left_out_of_the_view() {
    let bytes = raw_change(&mut home(), plain(), |change| {
        let id = "05".repeat(16);
        change
            .put(ROOT, format!("page/{id}"), ScalarValue::Bytes(vec![1; 40]))
            .unwrap();
        change
            .put(ROOT, "page/not-an-id", ScalarValue::Bytes(vec![1; 40]))
            .unwrap();
        change
            .put(ROOT, format!("page/{}", "06".repeat(16)), 7)
            .unwrap();
    });
    let file = first(bytes).unwrap();
    assert_eq!(file.view(), casefile::PupilView::default());
}
