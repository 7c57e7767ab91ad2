//! A stolen laptop that was removed and goes on: it and all that it lets in can lock others out at most.

use casefile::{CaseFile, Edit, Refused, SignedChange, Signer, WriteRefused};
use proptest::prelude::*;
use units::{MarkId, Role};

use crate::fixtures::*;

fn puppet(id: u8) -> Signer {
    Signer::from_secret([100 + id; 32])
}

fn role(file: &CaseFile, who: &Signer) -> Option<Role> {
    file.standing().role(who.device())
}

/// Files that heard the same in several orders, of which one is handed back; all stand the same.
fn in_any_order(log: Vec<Vec<SignedChange>>) -> CaseFile {
    let all = log.concat();
    let first = heard_one_by_one(&all);
    for by in 0..8 {
        let other = heard_one_by_one(&shuffled(&all, by));
        assert_eq!(other.standing(), first.standing());
        assert_eq!(other.have(), first.have());
    }
    let kept = CaseFile::of_kept(pupil(), all);
    assert_eq!(kept.standing(), first.standing());
    first
}

#[test]
fn whoever_a_removed_laptop_lets_in_lets_nobody_in_either() {
    let people = People::new();
    let thief = &people.second_laptop;
    let removal = people.file().remove(&people.laptop, thief.device());
    let mut stolen = people.file();
    let mut log = vec![people.log(), vec![removal.unwrap()]];
    let chain = [0, 1, 2, 3].map(puppet);
    let mut before = thief;
    for next in &chain {
        log.push(vec![
            stolen.admit(before, next.device(), Role::Tutor).unwrap(),
        ]);
        before = next;
    }
    log.push(vec![stolen.erase(&chain[1]).unwrap()]);
    log.push(vec![
        stolen
            .name_paper_key(&chain[2], puppet(9).device())
            .unwrap(),
    ]);
    let mut file = in_any_order(log);
    assert_eq!(role(&file, thief), None);
    for next in &chain {
        assert_eq!(role(&file, next), None);
        // Nor on top of everything.
        let refused = file.remove(next, people.laptop.device());
        assert_eq!(refused, Err(WriteRefused::NotAMember));
    }
    assert!(!file.standing().erased && file.standing().paper.is_empty());
    assert_eq!(role(&file, &people.laptop), Some(Role::Tutor));
}

/// Whether a removal was written in time or later on an old past nobody can tell; so it counts, and locks out
/// as one by the laptop itself would. Nobody is in by it.
#[test]
fn whoever_a_removed_laptop_lets_in_can_lock_out_and_no_more() {
    let people = People::new();
    let (thief, paper) = (&people.second_laptop, Signer::from_secret([90; 32]));
    let mut file = people.file();
    let named = file.name_paper_key(&people.laptop, paper.device());
    let log = [people.log(), vec![named.unwrap()]].concat();
    let mut stolen = file.clone();
    let removal = file.remove(&people.laptop, thief.device()).unwrap();
    let lets_in = stolen.admit(thief, puppet(0).device(), Role::Tutor);
    let meanwhile = vec![
        lets_in.unwrap(),
        stolen.remove(&puppet(0), people.laptop.device()).unwrap(),
    ];
    let mut file = in_any_order(vec![log, vec![removal], meanwhile]);
    for out in [&people.laptop, thief, &puppet(0)] {
        assert_eq!(role(&file, out), None);
    }
    file.admit(&paper, people.laptop.device(), Role::Tutor)
        .unwrap();
    assert_eq!(role(&file, &people.laptop), Some(Role::Tutor));
}

#[test]
fn a_removal_stands_though_its_author_was_let_in_by_somebody_who_is_said_to_have_been_out_before() {
    let people = People::new();
    let (laptop, thief, new) = (&people.laptop, &people.second_laptop, puppet(8));
    let mut file = people.file();
    let mut stolen = file.clone();
    // A new laptop is let in, and removes the stolen one, which has not heard of it.
    let lets_in = file.admit(laptop, new.device(), Role::Tutor).unwrap();
    let removal = file.remove(&new, thief.device()).unwrap();
    let ousting = stolen.remove(thief, laptop.device()).unwrap();
    let back = stolen.admit(thief, puppet(0).device(), Role::Tutor);
    let meanwhile = vec![ousting, back.unwrap()];
    let file = in_any_order(vec![people.log(), vec![lets_in, removal], meanwhile]);
    for out in [thief, &puppet(0), laptop] {
        assert_eq!(role(&file, out), None);
    }
}

#[test]
fn a_paper_key_of_which_a_laptop_has_heard_is_not_undone_by_it() {
    let people = People::new();
    let (laptop, thief, new) = (&people.laptop, &people.second_laptop, puppet(8));
    let paper = Signer::from_secret([90; 32]);
    let mut file = people.file();
    let mut stolen = people.file();
    let named = file.name_paper_key(laptop, paper.device()).unwrap();
    stolen.accept(&named).unwrap();
    let said = stolen.settle(thief).unwrap().write;
    assert_eq!(said.len(), 1);
    assert!(stolen.settle(thief).unwrap().is_nothing());
    assert!(file.settle(laptop).unwrap().is_nothing());
    // Stolen, it writes on the oldest past that its chain allows.
    let mut oldest = people.file();
    oldest.accept_all(&[named.clone(), said[0].clone()]);
    let meanwhile = vec![
        oldest.remove(thief, laptop.device()).unwrap(),
        oldest.name_paper_key(thief, puppet(9).device()).unwrap(),
    ];
    let removal = file.remove(laptop, thief.device()).unwrap();
    let log = vec![people.log(), vec![named], said, vec![removal], meanwhile];
    let mut file = in_any_order(log);
    assert_eq!(role(&file, laptop), None);
    assert_eq!(file.standing().paper, [paper.device()].into());
    file.admit(&paper, new.device(), Role::Tutor).unwrap();
    assert_eq!(role(&file, &new), Some(Role::Tutor));
}

#[test]
fn whom_the_paper_key_lets_in_is_locked_out_by_nothing_that_was_written_meanwhile() {
    let people = People::new();
    let (thief, new) = (&people.second_laptop, puppet(8));
    let paper = Signer::from_secret([90; 32]);
    let mut file = people.file();
    let named = file.name_paper_key(&people.laptop, paper.device());
    let log = [people.log(), vec![named.unwrap()]].concat();
    let mut stolen = file.clone();
    // The laptop is out by the thief; the tutor comes back with a new one.
    let ousting = stolen.remove(thief, people.laptop.device()).unwrap();
    file.accept(&ousting).unwrap();
    let back = file.admit(&paper, new.device(), Role::Tutor).unwrap();
    let removal = file.remove(&new, thief.device()).unwrap();
    // The thief has heard of the new laptop's name, and pretends not to have heard of its admission.
    let lets_in = stolen.admit(thief, new.device(), Role::Parent).unwrap();
    let again = stolen.remove(thief, new.device()).unwrap();
    let meanwhile = vec![ousting, lets_in, again];
    let file = in_any_order(vec![log, vec![back, removal], meanwhile]);
    assert_eq!(role(&file, &new), Some(Role::Tutor));
    assert_eq!(role(&file, thief), None);
}

#[test]
fn what_the_laptop_did_that_came_back_by_the_paper_key_stands() {
    let people = People::new();
    let (desk, thief, new) = (&people.laptop, &people.second_laptop, puppet(8));
    let paper = Signer::from_secret([90; 32]);
    let mut file = people.file();
    let named = file.name_paper_key(desk, paper.device()).unwrap();
    let log = [people.log(), vec![named]].concat();
    // The thief lets a puppet in, then locks the desk out.
    let mut stolen = file.clone();
    let lets_in = stolen.admit(thief, puppet(1).device(), Role::Tutor);
    let old_past = stolen.clone();
    let ousting = stolen.remove(thief, desk.device());
    let meanwhile = vec![lets_in.unwrap(), ousting.unwrap()];
    file.accept_all(&meanwhile);
    assert_eq!(role(&file, desk), None);
    // The desk is back by the paper, and goes on.
    let back = vec![
        file.admit(&paper, desk.device(), Role::Tutor).unwrap(),
        file.remove(desk, thief.device()).unwrap(),
        file.remove(desk, puppet(1).device()).unwrap(),
        file.admit(desk, new.device(), Role::Parent).unwrap(),
        file.erase(desk).unwrap(),
    ];
    // The puppet writes on its old past that it had removed the desk.
    let mut old_past = old_past;
    let backdated = old_past.remove(&puppet(1), desk.device()).unwrap();
    let file = in_any_order(vec![log, meanwhile, back, vec![backdated]]);
    assert_eq!(role(&file, desk), Some(Role::Tutor));
    assert_eq!(role(&file, &new), Some(Role::Parent));
    assert!(file.standing().erased);
    assert_eq!(role(&file, &puppet(1)), None);
}

#[test]
fn one_entry_says_of_any_number_of_paper_keys_that_they_are_known() {
    let people = People::new();
    let mut file = people.file();
    let mut named = Vec::new();
    for id in 0..20 {
        let admitted = file.admit(&people.laptop, puppet(id).device(), Role::Tutor);
        assert!(admitted.is_ok());
    }
    for id in 0..20 {
        // None of them knows of another's key.
        let key = puppet(50 + id).device();
        named.push(file.clone().name_paper_key(&puppet(id), key).unwrap());
    }
    file.accept_all(&named);
    assert_eq!(file.standing().paper.len(), 20);
    let said = file.settle(&people.laptop).unwrap().write;
    assert_eq!(said.len(), 1);
    assert!(file.settle(&people.laptop).unwrap().is_nothing());
}

#[test]
fn a_device_that_the_paper_key_let_in_can_still_be_removed() {
    let people = People::new();
    let (paper, new) = (Signer::from_secret([90; 32]), puppet(8));
    let mut file = people.file();
    file.name_paper_key(&people.laptop, paper.device()).unwrap();
    file.admit(&paper, new.device(), Role::Tutor).unwrap();
    file.remove(&people.laptop, new.device()).unwrap();
    assert_eq!(role(&file, &new), None);
}

/// It would be the tutor's own fault to admit a phone as a laptop; but a thief must not be able to turn the
/// tutor's laptop into a parent's for good.
#[test]
fn nobody_makes_a_parents_device_of_the_tutors() {
    let people = People::new();
    let mut file = people.file();
    let id = people.laptop.device();
    file.admit(&people.second_laptop, id, Role::Parent).unwrap();
    assert_eq!(role(&file, &people.laptop), Some(Role::Tutor));
    file.remove(&people.laptop, people.second_laptop.device())
        .unwrap();
    // Removed and admitted again it is what was said last.
    file.remove(&people.laptop, people.phone.device()).unwrap();
    file.admit(&people.laptop, people.phone.device(), Role::Tutor)
        .unwrap();
    assert_eq!(role(&file, &people.phone), Some(Role::Tutor));
}

#[test]
fn a_removal_takes_nothing_from_the_device_that_wrote_it() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let (thief, third) = (&people.second_laptop, puppet(8));
    let mut file = people.file();
    file.admit(laptop, third.device(), Role::Tutor).unwrap();
    let (mut stolen, mut thirds) = (file.clone(), file.clone());
    let written = written(
        &mut file,
        vec![
            (phone, Edit::AddPage(page(1, phone))),
            (laptop, Edit::AddMark(mark(2, 1, laptop))),
        ],
    );
    thirds.accept_all(&written);
    let before = file.view();
    // The thief knows of nothing that the laptop wrote, and says so.
    let ousting = stolen.remove(thief, laptop.device()).unwrap();
    for (file, signer) in [(&mut file, laptop), (&mut thirds, &third)] {
        file.accept(&ousting).unwrap();
        file.settle(signer).unwrap();
    }
    assert!(thirds.view().marks.is_empty());
    assert_eq!(file.view(), before);
    // The third laptop founds the books anew before it lets the first in again.
    let removal = thirds.remove(&third, thief.device()).unwrap();
    let founded = found(&mut thirds, &third, 7, &[]);
    file.accept(&removal).unwrap();
    file.accept_all(&founded.write);
    assert!(file.settle(laptop).unwrap().is_nothing());
    assert_eq!(file.view().marks, before.marks);
    let back = thirds.admit(&third, laptop.device(), Role::Tutor).unwrap();
    file.accept(&back).unwrap();
    file.accept_all(&founded.write);
    let carried = file.settle(laptop).unwrap();
    thirds.accept_all(&carried.write);
    assert_eq!(file.view(), thirds.view());
    assert_eq!(thirds.view().marks[0].id, MarkId([2; 16]));
    assert_eq!(thirds.view().pages, before.pages);
}

#[test]
fn only_who_belongs_can_be_removed() {
    let people = People::new();
    let mut file = people.file();
    let stranger = puppet(5);
    let admitted = people
        .file()
        .admit(&people.laptop, stranger.device(), Role::Parent)
        .unwrap();
    let mut knows = people.file();
    knows.accept(&admitted).unwrap();
    let removal = knows
        .remove(&people.second_laptop, stranger.device())
        .unwrap();
    // It comes once that is here on which it rests.
    assert!(matches!(file.accept(&removal), Err(Refused::Gap { .. })));
    file.accept(&admitted).unwrap();
    file.accept(&removal).unwrap();
    let refused = file.remove(&people.laptop, stranger.device());
    assert_eq!(refused, Err(WriteRefused::Missing("device")));
}

#[derive(Debug, Clone)]
enum Evil {
    LetIn { by: usize, whom: usize },
    Remove { by: usize, whom: usize },
    Erase { by: usize },
    Found { by: usize },
    Paper { by: usize },
}

fn evil() -> impl Strategy<Value = Evil> {
    let (by, whom) = (0..4_usize, 0..6_usize);
    prop_oneof![
        3 => (by.clone(), whom.clone()).prop_map(|(by, whom)| Evil::LetIn { by, whom }),
        2 => (by.clone(), whom).prop_map(|(by, whom)| Evil::Remove { by, whom }),
        1 => by.clone().prop_map(|by| Evil::Erase { by }),
        1 => by.clone().prop_map(|by| Evil::Found { by }),
        1 => by.prop_map(|by| Evil::Paper { by }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..Default::default() })]

    /// A laptop that others have removed writes what it likes with all that it lets in, on the past that it
    /// had or an older one. Once all is known, in whatever order, nobody belongs whom it let in, and nothing
    /// is erased, forgotten or named.
    #[test]
    fn nothing_comes_of_what_a_removed_laptop_does(
        acts in prop::collection::vec(evil(), 1..25),
        old in any::<bool>(),
        by in 1..4_u8,
        orders in any::<[u64; 3]>(),
    ) {
        let people = People::new();
        let third = puppet(8);
        let mut file = people.file();
        let mut all = people.log();
        let before = file.clone();
        all.push(file.admit(&people.laptop, third.device(), Role::Tutor).unwrap());
        let thief = &people.second_laptop;
        let gang = [thief.clone(), puppet(0), puppet(1), puppet(2)];
        let others = [&people.laptop, &third];
        let mut stolen = if old { before } else { file.clone() };
        for (at, who) in others.into_iter().enumerate() {
            if by & (1 << at) != 0 {
                all.push(file.clone().remove(who, thief.device()).unwrap());
            }
        }
        for (number, act) in acts.into_iter().enumerate() {
            let whom = |at: usize| match gang.get(at) {
                Some(one) => one.device(),
                None => others[at - gang.len()].device(),
            };
            let written = match act {
                Evil::LetIn { by, whom: at } => stolen.admit(&gang[by], whom(at), Role::Tutor),
                Evil::Remove { by, whom: at } => stolen.remove(&gang[by], whom(at)),
                Evil::Erase { by } => stolen.erase(&gang[by]),
                Evil::Paper { by } => stolen.name_paper_key(&gang[by], puppet(20).device()),
                Evil::Found { by } => {
                    let id = casefile::FoundingId([number as u8 + 1; 8]);
                    let founded = stolen.found_anew(&gang[by], id, &[[9; 16]], all_held);
                    founded.map(|founded| founded.write[0].clone())
                }
            };
            all.extend(written);
        }
        let first = heard_one_by_one(&all);
        for by in orders {
            let other = heard_one_by_one(&shuffled(&all, by));
            prop_assert_eq!(other.standing(), first.standing());
        }
        let standing = first.standing();
        for one in &gang {
            prop_assert_eq!(role(&first, one), None);
        }
        prop_assert!(!standing.erased && standing.forgotten.is_empty() && standing.paper.is_empty());
        prop_assert!(standing.founding.is_none());
    }
}
