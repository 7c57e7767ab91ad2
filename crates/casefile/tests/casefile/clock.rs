//! Logical time that somebody makes false: it ends nobody's counting, and whoever puts something right later
//! is heard.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ROOT, ScalarValue};
use casefile::{BookKind, CaseFile, Edit, SignedChange, Signer};
use units::{PageId, Profile};

use crate::fixtures::*;

/// No honest count comes near it.
const FAR: u64 = 1 << 53;

fn text(words: &str) -> Edit {
    Edit::SetText {
        page: PageId([1; 16]),
        text: Some(vec![words.to_owned()]),
    }
}

fn shown(file: &CaseFile) -> Vec<String> {
    file.view().pages[0].text.clone().unwrap()
}

/// A phone says something of the page at a time of its own.
fn false_time(stamp: u64) -> SignedChange {
    by_hand(0, |change| {
        let key = format!("text/{}", "01".repeat(16));
        let time = ScalarValue::Uint(stamp);
        change.put(ROOT, "stamp", time.clone()).unwrap();
        change.put(ROOT, key.as_str(), "for ever\n").unwrap();
        change.put(ROOT, format!("{key}@"), time).unwrap();
    })
}

fn by_rank(people: &People) -> [&Signer; 2] {
    let mut two = [&people.laptop, &people.second_laptop];
    two.sort_by_key(|signer| signer.device());
    two
}

const STAMPS: [u64; 6] = [u64::MAX, 1 << 62, FAR + 2, FAR + 1, FAR, FAR - 1];

#[test]
fn whoever_writes_after_having_seen_a_false_time_wins() {
    let people = People::new();
    let [lower, higher] = by_rank(&people);
    for stamp in STAMPS {
        let mut file = people.file();
        file.write(&people.laptop, Edit::AddPage(page(1, &people.laptop)))
            .unwrap();
        file.accept(&false_time(stamp)).unwrap();
        for (number, who) in [lower, higher, &people.second_phone, lower, higher, lower]
            .into_iter()
            .enumerate()
        {
            let words = format!("put right {number}");
            file.write(who, text(&words)).unwrap();
            assert_eq!(shown(&file), [words], "after {stamp}");
        }
        let named = |name: &str| {
            Edit::SetProfile(Profile {
                name: name.into(),
                ..profile()
            })
        };
        for (who, name) in [(higher, "First"), (lower, "Second"), (higher, "Third")] {
            file.write(who, named(name)).unwrap();
            assert_eq!(file.view().profile.unwrap().name, name);
        }
    }
}

#[test]
fn a_time_that_cannot_be_is_as_good_as_none() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.laptop, Edit::AddPage(page(1, &people.laptop)))
        .unwrap();
    let before = shown(&file);
    file.accept(&false_time(u64::MAX)).unwrap();
    assert_eq!(shown(&file), before);
}

#[test]
fn a_false_time_does_not_outlive_founding_anew() {
    let people = People::new();
    let [lower, higher] = by_rank(&people);
    for stamp in STAMPS {
        let mut file = people.file();
        let mut all = vec![
            file.write(higher, Edit::AddPage(page(1, higher))).unwrap(),
            false_time(stamp),
        ];
        file.accept(&all[1]).unwrap();
        all.push(file.write(higher, text("put right")).unwrap());
        let mut late = people.file();
        late.accept_all(&all);
        let mut untouched = late.clone();
        let founded = found(&mut file, higher, 5, &[]);
        assert_eq!(shown(&file), ["put right"]);
        // Whoever has written nothing meanwhile carries nothing over that would hide it again.
        untouched.accept_all(&founded.write);
        let carried = untouched.settle(&people.phone).unwrap();
        assert!(carried.write.is_empty());
        for (who, words) in [(lower, "one"), (higher, "two"), (lower, "three")] {
            file.write(who, text(words)).unwrap();
            assert_eq!(shown(&file), [words], "after {stamp}");
        }
        found(&mut file, lower, 6, &[]);
        assert_eq!(shown(&file), ["three"]);
        // Another key written late is carried over.
        let minutes = Edit::SetMinutes {
            page: PageId([1; 16]),
            minutes: Some(7),
        };
        late.write(&people.second_phone, minutes).unwrap();
        late.accept_all(&founded.write);
        let carried = late.settle(&people.second_phone).unwrap();
        assert_eq!(carried.write.len(), 1);
        assert_eq!(late.view().pages[0].minutes, Some(7));
    }
}

#[test]
fn a_reading_from_a_false_time_can_be_replaced() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    // Its record says the time too: a version, then time, engine, moment, whole reading and measures.
    let measures: [u8; 0] = [];
    let fields = (u64::MAX, "metrics 0.1.0", 1_i64, [2_u8; 32], &measures[..]);
    let value = postcard::to_extend(&fields, vec![1]).unwrap();
    let home = doc(BookKind::Home, &people.second_phone);
    let options = CommitOptions::default().with_time(0);
    let bytes = raw_change(&mut raw_document(&home), options, |change| {
        let key = format!("reading/{}/{}", "01".repeat(16), "02".repeat(16));
        change.put(ROOT, key, ScalarValue::Bytes(value)).unwrap();
    });
    file.accept(&sign(4, home, 1, bytes)).unwrap();
    let again = reading(3);
    let page = PageId([1; 16]);
    file.write(
        &people.laptop,
        Edit::AddReading {
            page,
            reading: again.clone(),
        },
    )
    .unwrap();
    let view = file.view();
    assert_eq!(view.pages[0].readings.len(), 3);
    assert_eq!(view.pages[0].readings.last(), Some(&again));
}
