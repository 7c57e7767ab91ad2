//! Random work of four devices with random, repeated and reordered deliveries: in the end all
//! views agree, and a newcomer who hears everything in another order agrees too.

use casefile::{Accepted, CaseFile, Edit, Refused, SignedChange, Signer};
use proptest::prelude::*;
use units::{AmendmentId, Day, FocusId, MarkId, Moment, PageId, PractisedId};

use crate::fixtures::*;

const DEVICES: usize = 4;

#[derive(Debug, Clone)]
enum Step {
    /// A device does something, if it may.
    Do {
        device: usize,
        what: u8,
        which: u8,
        value: u8,
    },
    /// One change, of those that there are, reaches a device.
    Deliver {
        change: prop::sample::Index,
        to: usize,
    },
}

fn step() -> impl Strategy<Value = Step> {
    let work = (0..DEVICES, 0..17_u8, 1..5_u8, 1..9_u8).prop_map(|(device, what, which, value)| {
        Step::Do {
            device,
            what,
            which,
            value,
        }
    });
    let delivery = (any::<prop::sample::Index>(), 0..DEVICES)
        .prop_map(|(change, to)| Step::Deliver { change, to });
    prop_oneof![2 => work, 3 => delivery]
}

fn edit(signer: &Signer, what: u8, which: u8, value: u8) -> Edit {
    let page_id = PageId([which; 16]);
    match what {
        0 => Edit::SetProfile(units::Profile {
            name: format!("Wren {value}"),
            ..profile()
        }),
        1 => Edit::SetProfile(units::Profile {
            year: units::SchoolYear(value),
            ..profile()
        }),
        2 => Edit::SetTask(units::Task {
            minutes: value.into(),
            ..task(which)
        }),
        3 => Edit::AddPage(page(which, signer)),
        4 => Edit::AddReading {
            page: page_id,
            reading: reading(value),
        },
        5 => Edit::SetText {
            page: page_id,
            text: Some(vec![format!("text {value}")]),
        },
        6 => Edit::LookAt {
            page: page_id,
            at: Moment(value.into()),
        },
        7 => Edit::AddMark(mark(value, which, signer)),
        8 => Edit::RemoveMark(MarkId([value; 16])),
        9 => Edit::Amend(amendment(value, which, signer)),
        10 => Edit::TakeBack(AmendmentId([value; 16])),
        11 => Edit::SetProfile(units::Profile {
            model: own_letters(),
            ..profile()
        }),
        12 => Edit::AddPage(units::PageRecord {
            model: own_letters(),
            ..page(which, signer)
        }),
        13 => Edit::AddPractised(practised(value)),
        15 => Edit::ChangeMark(units::Mark {
            words: format!("mark {value}"),
            ..mark(which, 1, signer)
        }),
        14 => Edit::DropPractised(PractisedId([value; 16])),
        _ if value < 4 => Edit::StartFocus(focus(which)),
        _ => Edit::EndFocus {
            focus: FocusId([which; 16]),
            on: Day(20_020 + i32::from(value)),
        },
    }
}

/// Takes the changes in the order given, coming back for those whose time had not come.
fn hear_all(file: &mut CaseFile, mut changes: Vec<SignedChange>) {
    while !changes.is_empty() {
        let before = changes.len();
        changes.retain(|change| match file.accept(change) {
            Ok(_) => false,
            Err(Refused::Gap { .. }) => true,
            Err(other) => panic!("{other}"),
        });
        assert!(changes.len() < before, "no change could be taken");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..Default::default() })]

    #[test]
    fn all_views_agree_in_the_end(
        steps in prop::collection::vec(step(), 1..90),
        shuffle in any::<u64>(),
    ) {
        let people = People::new();
        let signers =
            [&people.laptop, &people.second_laptop, &people.phone, &people.second_phone];
        let mut files: Vec<CaseFile> = (0..DEVICES).map(|_| people.file()).collect();
        let mut changes: Vec<SignedChange> = Vec::new();
        for step in steps {
            match step {
                Step::Do { device, what, which, value } => {
                    let before = files[device].have();
                    let edit = edit(signers[device], what, which, value);
                    match files[device].write(signers[device], edit) {
                        Ok(change) => changes.push(change),
                        Err(_) => prop_assert_eq!(files[device].have(), before),
                    }
                }
                Step::Deliver { change, to } if !changes.is_empty() => {
                    let change = change.get(&changes);
                    let next = files[to].have().get(&change.doc).copied().unwrap_or(0) + 1;
                    let outcome = files[to].accept(change);
                    prop_assert_eq!(outcome, match change.seq {
                        seq if seq < next => Ok(Accepted::Known),
                        seq if seq == next => Ok(Accepted::New),
                        _ => Err(Refused::Gap { expected: next }),
                    });
                }
                Step::Deliver { .. } => {}
            }
        }
        for file in &mut files {
            hear_all(file, changes.clone());
        }
        let mut newcomer = people.file();
        let mut shuffled = changes.clone();
        shuffled.sort_by_key(|change| blake3::hash(
            &[&shuffle.to_le_bytes(), change.signature.as_slice()].concat()
        ).as_bytes().to_owned());
        hear_all(&mut newcomer, shuffled);
        for file in &files {
            prop_assert_eq!(file.view(), newcomer.view());
            prop_assert_eq!(file.have(), newcomer.have());
        }
    }
}
