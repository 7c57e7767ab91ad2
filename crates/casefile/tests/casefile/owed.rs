//! When a device of the tutor's is to found the books anew by itself: where the logs of two met, and never
//! because a member says so.

use automerge::transaction::Transactable;
use automerge::{ROOT, ScalarValue};
use casefile::{CaseFile, Edit, FoundingId, SignedChange};
use proptest::prelude::*;
use units::{MarkId, PageId};

use crate::fixtures::*;

#[test]
fn a_parents_device_cannot_have_the_books_founded_anew() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    found(&mut file, laptop, 5, &[[1; 16]]);
    let names_it = by_hand(5, |change| {
        let value = ScalarValue::Bytes(vec![1; 16]);
        change.put(ROOT, "text/x", value).unwrap();
        let page = format!("page/{}", "01".repeat(16));
        change
            .put(ROOT, page, ScalarValue::Bytes(vec![1; 60]))
            .unwrap();
    });
    file.accept(&names_it).unwrap();
    assert!(!file.owes_founding());
    // It is not shown either, and goes with the next.
    assert!(file.view().pages.is_empty());
    let next = found(&mut file, laptop, 6, &[]);
    let mut seed = next.write[1..].iter();
    assert!(!seed.any(|change| change.bytes.windows(16).any(|part| part == [1; 16])));
}

#[test]
fn what_was_forgotten_elsewhere_at_the_same_time_is_a_reason_in_every_book() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let mut file = people.file();
    let added = file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    let mut other = people.file();
    other.accept(&added).unwrap();
    let mut phones = other.clone();
    // The laptop has not heard of the page; the second forgets it. The first one's founding holds.
    let mut first = people.file();
    let low = found(&mut first, laptop, 1, &[]).write;
    let high = found(&mut other, second, 2, &[[1; 16]]).write;
    phones.accept_all(&low);
    let carried = phones.settle(phone).unwrap().write;
    assert_eq!(carried.len(), 1);
    first.accept_all(&carried);
    assert!(first.view().page(PageId([1; 16])).is_some());
    first.accept_all(&high);
    assert!(first.view().page(PageId([1; 16])).is_none());
    assert!(
        first.owes_founding(),
        "what the phone carried over is to go"
    );
    let again = found(&mut first, laptop, 3, &[]).write;
    assert!(!first.owes_founding());
    let picture = page(1, phone).picture.0;
    assert!(
        !again
            .iter()
            .any(|change| change.bytes.windows(32).any(|part| part == picture))
    );
}

#[derive(Debug, Clone)]
enum Act {
    Page { who: usize, id: u8 },
    Mark { who: usize, id: u8, page: u8 },
    Found { who: usize, id: u8, forget: u8 },
    Meet { one: usize, other: usize },
}

fn act() -> impl Strategy<Value = Act> {
    let who = 0..4_usize;
    prop_oneof![
        2 => (who.clone(), 1..6_u8).prop_map(|(who, id)| Act::Page { who, id }),
        2 => (0..2_usize, 0x20..0x26_u8, 1..6_u8)
            .prop_map(|(who, id, page)| Act::Mark { who, id, page }),
        2 => (0..2_usize, 0x80..0xFF_u8, 0..6_u8)
            .prop_map(|(who, id, forget)| Act::Found { who, id, forget }),
        4 => (who.clone(), who).prop_map(|(one, other)| Act::Meet { one, other }),
    ]
}

/// A device with all that it keeps, as the program keeps it.
struct Device {
    file: CaseFile,
    kept: Vec<SignedChange>,
}

impl Device {
    fn keep(&mut self, settled: &casefile::Settled) {
        let gone = |change: &SignedChange| settled.forget.contains(&change.doc);
        self.kept.retain(|change| !gone(change));
        self.kept.extend(settled.write.iter().cloned());
    }

    fn hear(&mut self, news: &[SignedChange], me: &casefile::Signer) -> bool {
        let told = self.file.accept_all(news);
        let new = |told: &Result<_, _>| *told == Ok(casefile::Accepted::New);
        let fresh = news.iter().zip(&told).filter(|(_, told)| new(told));
        self.kept.extend(fresh.map(|(change, _)| change.clone()));
        let settled = self.file.settle(me).unwrap();
        self.keep(&settled);
        !settled.is_nothing() || told.iter().any(new)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    /// Two laptops and two phones write, found anew and forget as they like and meet now and then. Once all
    /// have met, all hold the same, and what was forgotten is in nobody's changes.
    #[test]
    fn whoever_forgets_what_and_when_all_end_level(acts in prop::collection::vec(act(), 1..40)) {
        let people = People::new();
        let signers =
            [&people.laptop, &people.second_laptop, &people.phone, &people.second_phone];
        let device = || Device { file: people.file(), kept: people.log() };
        let mut devices: Vec<Device> = signers.iter().map(|_| device()).collect();
        let mut names = std::collections::BTreeSet::new();
        for act in acts {
            match act {
                Act::Page { who, id } => {
                    let edit = Edit::AddPage(page(id, signers[who]));
                    let device = &mut devices[who];
                    // Ids are random: nobody gives a new page that of one known to be forgotten.
                    if device.file.standing().forgotten.contains(&[id; 16]) {
                        continue;
                    }
                    device.kept.extend(device.file.write(signers[who], edit));
                }
                Act::Mark { who, id, page } => {
                    let edit = Edit::AddMark(mark(id, page, signers[who]));
                    let device = &mut devices[who];
                    device.kept.extend(device.file.write(signers[who], edit));
                    let back = Edit::RemoveMark(MarkId([id ^ 1; 16]));
                    device.kept.extend(device.file.write(signers[who], back));
                }
                Act::Found { who, id, forget } => {
                    if names.insert(id) {
                        let ids = if forget == 0 { vec![] } else { vec![[forget; 16]] };
                        let device = &mut devices[who];
                        let id = FoundingId([id; 8]);
                        let founded = device.file.found_anew(signers[who], id, &ids, all_held);
                        if let Ok(settled) = founded {
                            device.keep(&settled);
                        }
                    }
                }
                Act::Meet { one, other } => {
                    let news = devices[one].kept.clone();
                    devices[other].hear(&news, signers[other]);
                }
            }
        }
        let mut founded = 0_u8;
        for round in 0.. {
            prop_assert!(round < 12, "they do not come level");
            let mut moved = false;
            for one in 0..4 {
                for other in 0..4 {
                    let news = devices[one].kept.clone();
                    moved |= devices[other].hear(&news, signers[other]);
                    let device = &mut devices[other];
                    if other < 2 && device.file.owes_founding() {
                        founded += 1;
                        let id = FoundingId([founded; 8]);
                        let settled = device.file.found_anew(signers[other], id, &[], all_held);
                        device.keep(&settled.unwrap());
                        moved = true;
                    }
                }
            }
            if !moved {
                break;
            }
        }
        let first = &devices[0].file;
        for device in &devices {
            prop_assert_eq!(device.file.standing(), first.standing());
            prop_assert_eq!(device.file.view(), first.view());
            prop_assert_eq!(device.file.have(), first.have());
            prop_assert!(!device.file.owes_founding());
            let again = CaseFile::of_kept(pupil(), device.kept.clone());
            prop_assert_eq!(again.view(), first.view());
            for id in &first.standing().forgotten {
                let books = device.kept.iter().filter(|change| !change.doc.is_log());
                let mut bytes = books.map(|change| change.bytes.as_slice());
                let hex: String = id.iter().map(|byte| format!("{byte:02x}")).collect();
                prop_assert!(!bytes.any(|bytes| bytes.windows(32).any(|it| it == hex.as_bytes())));
            }
        }
    }
}
