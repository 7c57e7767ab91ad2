//! Somebody who fills the log takes up nobody's room but its own.

use std::collections::BTreeSet;

use casefile::{CaseFile, FoundingId, MAX_ENTRIES, Refused, SignedChange, Signer, WriteRefused};
use units::{DeviceId, Role};

use crate::fixtures::*;

fn numbered(number: u64) -> DeviceId {
    let mut id = [9; 32];
    id[..8].copy_from_slice(&number.to_le_bytes());
    DeviceId(id)
}

fn signer(number: u64) -> Signer {
    let mut secret = [8; 32];
    secret[..8].copy_from_slice(&number.to_le_bytes());
    Signer::from_secret(secret)
}

fn is_in(file: &CaseFile, who: &Signer) -> bool {
    file.standing().role(who.device()).is_some()
}

/// All that a laptop can write in the log before it is told that there is no more room.
fn flood(stolen: &mut CaseFile, thief: &Signer) -> Vec<SignedChange> {
    let mut flood = Vec::new();
    let mut number = 0;
    loop {
        match stolen.admit(thief, numbered(number), Role::Parent) {
            Ok(change) => flood.push(change),
            Err(refused) => {
                assert!(matches!(refused, WriteRefused::TooLong { .. }));
                break;
            }
        }
        number += 1;
    }
    for number in (0..number).step_by(3) {
        flood.push(stolen.remove(thief, numbered(number)).unwrap());
    }
    flood
}

#[test]
fn a_full_chain_leaves_room_for_its_removal_in_every_order() {
    let people = People::new();
    let (laptop, thief) = (&people.laptop, &people.second_laptop);
    let mut ours = people.file();
    let removal = ours.remove(laptop, thief.device()).unwrap();
    let flood = flood(&mut people.file(), thief);
    assert!(flood.len() > MAX_ENTRIES);
    // The flood first, and the removal first.
    let mut theirs = people.file();
    for (file, changes) in [
        (
            &mut theirs,
            [&flood[..], std::slice::from_ref(&removal)].concat(),
        ),
        (&mut ours, flood.clone()),
    ] {
        assert!(file.accept_all(&changes).iter().all(Result::is_ok));
    }
    assert_eq!(ours.standing(), theirs.standing());
    assert!(!is_in(&ours, thief));
    assert_eq!(ours.standing().members.len(), 3);
    // Who saw the flood before removes as well, goes on, and finds it so after a restart.
    let mut late = people.file();
    late.accept_all(&flood);
    let mut log = [people.log(), flood].concat();
    let newcomer = signer(1);
    log.push(late.remove(laptop, thief.device()).unwrap());
    log.push(late.admit(laptop, newcomer.device(), Role::Tutor).unwrap());
    log.push(late.remove(laptop, numbered(1)).unwrap());
    log.extend(found(&mut late, laptop, 5, &[]).write);
    let again = CaseFile::of_kept(pupil(), log);
    assert_eq!(again.standing(), late.standing());
    assert!(!is_in(&again, thief) && is_in(&again, &newcomer));
    assert_eq!(again.standing().founding_id(), FoundingId([5; 8]));
}

#[test]
fn the_paper_key_lets_somebody_in_whatever_others_wrote() {
    let people = People::new();
    let paper = Signer::from_secret([90; 32]);
    let mut file = people.file();
    file.name_paper_key(&people.laptop, paper.device()).unwrap();
    for full in [&people.laptop, &people.second_laptop] {
        flood(&mut file, full);
    }
    let new = signer(1);
    file.admit(&paper, new.device(), Role::Tutor).unwrap();
    file.remove(&new, people.second_laptop.device()).unwrap();
    assert!(is_in(&file, &new) && !is_in(&file, &people.second_laptop));
}

#[test]
fn foundings_leave_room_for_admissions() {
    let people = People::new();
    let (laptop, mut file) = (&people.laptop, people.file());
    let mut number = 0_u32;
    let refused = loop {
        let mut id = [7; 8];
        id[..4].copy_from_slice(&number.to_le_bytes());
        let before = (file.have(), file.view());
        match file.found_anew(laptop, FoundingId(id), &[], all_held) {
            Ok(_) => number += 1,
            Err(refused) => {
                assert_eq!((file.have(), file.view()), before, "nothing has changed");
                break refused;
            }
        }
    };
    assert!(matches!(refused, WriteRefused::TooLong { .. }));
    for number in 0..90 {
        file.admit(laptop, numbered(number), Role::Parent).unwrap();
    }
    file.erase(laptop).unwrap();
}

/// A laptop lets many others in, each of which writes at the same time: more ends than one entry names.
#[test]
fn any_number_of_open_ends_keeps_nobody_from_writing() {
    let people = People::new();
    let (laptop, thief) = (&people.laptop, &people.second_laptop);
    let mut stolen = people.file();
    let puppets: Vec<Signer> = (0..900).map(signer).collect();
    let mut all: Vec<SignedChange> = puppets
        .iter()
        .map(|puppet| stolen.admit(thief, puppet.device(), Role::Tutor).unwrap())
        .collect();
    let others: Vec<Signer> = (1_000..1_200).map(signer).collect();
    let mut second = stolen.clone();
    let admitted = others.iter().map(|other| {
        let other = other.device();
        second.admit(&puppets[0], other, Role::Tutor).unwrap()
    });
    all.extend(admitted.collect::<Vec<_>>());
    // Each names what all of them rest on, and nothing of the others.
    let base = (stolen, second);
    for (number, puppet) in puppets.iter().enumerate().skip(1) {
        let mut one = base.0.clone();
        let whom = numbered(number as u64);
        all.push(one.admit(puppet, whom, Role::Parent).unwrap());
    }
    for (number, other) in others.iter().enumerate() {
        let mut one = base.1.clone();
        let whom = numbered(number as u64);
        all.push(one.admit(other, whom, Role::Parent).unwrap());
    }
    let mut home = people.file();
    assert!(home.accept_all(&all).iter().all(Result::is_ok));
    let mut ours = vec![
        home.remove(laptop, others[150].device()).unwrap(),
        home.admit(laptop, signer(5_000).device(), Role::Tutor)
            .unwrap(),
        home.remove(laptop, thief.device()).unwrap(),
    ];
    ours.extend(found(&mut home, laptop, 5, &[]).write);
    assert!(!is_in(&home, thief) && !is_in(&home, &others[150]));
    let mut phone = people.file();
    assert!(phone.accept_all(&all).iter().all(Result::is_ok));
    assert!(phone.accept_all(&ours).iter().all(Result::is_ok));
    assert_eq!(phone.standing(), home.standing());
    let again = CaseFile::of_kept(pupil(), [people.log(), all, ours].concat());
    assert_eq!(again.standing(), home.standing());
}

#[test]
fn more_than_a_chain_holds_is_refused_by_everybody_alike() {
    let people = People::new();
    let thief = &people.second_laptop;
    // What the program would not write is written by hand: the last admission once more, one further on.
    let mut stolen = people.file();
    let flood = flood(&mut stolen, thief);
    let full: Vec<SignedChange> = flood[..MAX_ENTRIES].to_vec();
    let mut file = people.file();
    assert!(file.accept_all(&full).iter().all(Result::is_ok));
    let mut other = people.file();
    for change in &full {
        other.accept(change).unwrap();
    }
    let last = &full[MAX_ENTRIES - 1];
    let heads: BTreeSet<u64> = full.iter().map(|change| change.seq).collect();
    assert_eq!(heads.len(), MAX_ENTRIES);
    // Its bytes with another head: those of an entry that rests on the last one.
    let hash = entry_hash(last);
    let mut bytes = last.bytes.clone();
    bytes[2..34].copy_from_slice(&hash);
    let more = sign(2, last.doc, last.seq + 1, bytes);
    for file in [&mut file, &mut other] {
        assert_eq!(file.accept(&more), Err(Refused::DocumentFull));
    }
}

/// The hash of an entry by the published rule: BLAKE3 over its place and bytes, under a context of its own.
fn entry_hash(change: &SignedChange) -> [u8; 32] {
    let mut hasher = blake3::Hasher::new_derive_key("pothook/casefile/entry");
    hasher.update(&change.doc.encode());
    hasher.update(&change.seq.to_le_bytes());
    hasher.update(&change.bytes);
    *hasher.finalize().as_bytes()
}
