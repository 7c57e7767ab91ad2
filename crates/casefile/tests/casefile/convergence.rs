//! Random work of four devices with random, repeated and reordered deliveries: in the end all
//! views agree, and a newcomer who hears everything in another order agrees too.

use std::sync::LazyLock;

use casefile::{Accepted, CaseFile, Refused, SignedChange};
use proptest::prelude::*;

use crate::fixtures::*;
use crate::kinds::{About, edits, two_of_everything};

const DEVICES: usize = 4;

/// What all of them know when they begin.
static KNOWN: LazyLock<(CaseFile, Vec<SignedChange>)> =
    LazyLock::new(|| two_of_everything(&People::new()));

#[derive(Debug, Clone)]
enum Step {
    /// A device does something, of all that can be done, if it may.
    Do {
        device: usize,
        what: prop::sample::Index,
        known: u8,
        new: u8,
        value: u8,
    },
    /// One change, of those that there are, reaches a device.
    Deliver {
        change: prop::sample::Index,
        to: usize,
    },
}

fn step() -> impl Strategy<Value = Step> {
    let what = any::<prop::sample::Index>();
    let work = (0..DEVICES, what, 1..5_u8, 1..9_u8, 1..9_u8);
    let work = work.prop_map(|(device, what, known, new, value)| Step::Do {
        device,
        what,
        known,
        new,
        value,
    });
    let delivery = (any::<prop::sample::Index>(), 0..DEVICES)
        .prop_map(|(change, to)| Step::Deliver { change, to });
    prop_oneof![2 => work, 3 => delivery]
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
        let (known, before) = &*KNOWN;
        let mut files = [(); DEVICES].map(|()| known.clone());
        let mut changes: Vec<SignedChange> = Vec::new();
        for step in steps {
            match step {
                Step::Do { device, what, known, new, value } => {
                    let before = files[device].have();
                    let edits = edits(About { by: signers[device], known, new, value });
                    let edit = what.get(&edits).clone();
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
        let all = [before.as_slice(), &changes].concat();
        accept_all(&mut newcomer, &interleaved(&all, shuffle));
        for file in &files {
            prop_assert_eq!(file.view(), newcomer.view());
            prop_assert_eq!(file.have(), newcomer.have());
        }
    }
}
