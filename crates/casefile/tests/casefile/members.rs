//! Who belongs: admissions, removals, the paper key, and what happens when they are written at once.

use casefile::{BookKind, CaseFile, Edit, Refused, SignedChange, Signer, WriteRefused};
use proptest::prelude::*;
use units::{DeviceId, Role};

use crate::fixtures::*;

fn roles(file: &CaseFile) -> Vec<(DeviceId, Role)> {
    let members = file.standing().members.iter();
    members.map(|(device, role)| (*device, *role)).collect()
}

fn belongs(file: &CaseFile, who: &Signer) -> bool {
    file.standing().role(who.device()).is_some()
}

/// Copies of a file hear of everything that was written in them.
fn all_hear(files: &mut [CaseFile], changes: &[SignedChange]) {
    for file in &mut *files {
        file.accept_all(changes);
    }
    let (first, rest) = files.split_first().unwrap();
    for file in rest {
        assert_eq!(file.standing(), first.standing());
    }
}

#[test]
fn the_name_of_a_pupil_follows_from_the_first_entry() {
    let people = People::new();
    let (begun, first) = CaseFile::begin(&people.laptop, [0x11; 16], None);
    assert_eq!(begun.pupil(), pupil());
    // Another's first entry, or another first entry, cannot stand under the name.
    for (signer, nonce) in [(&people.phone, 0x11), (&people.laptop, 0x12)] {
        let (_, mut other) = CaseFile::begin(signer, [nonce; 16], None);
        other.doc.pupil = pupil();
        let secret = if nonce == 0x11 { 3 } else { 1 };
        let other = sign(secret, other.doc, 1, other.bytes);
        let refused = CaseFile::new(pupil()).accept(&other);
        assert_eq!(refused, Err(Refused::WrongPupil));
    }
    assert!(CaseFile::new(pupil()).accept(&first).is_ok());
}

#[test]
fn nothing_is_taken_before_the_log_is_here() {
    let people = People::new();
    let change = people
        .file()
        .write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    let mut file = CaseFile::new(pupil());
    assert_eq!(file.accept(&change), Err(Refused::NotAMember));
    // Together it is, in any order.
    let mut heap = people.log();
    heap.insert(0, change);
    heap.reverse();
    assert!(file.accept_all(&heap).iter().all(Result::is_ok));
    assert_eq!(file.view().profile, Some(profile()));
}

#[test]
fn only_the_tutors_devices_and_the_paper_key_write_the_log() {
    let people = People::new();
    let mut file = people.file();
    let newcomer = Signer::from_secret([7; 32]);
    let refused = file.admit(&people.phone, newcomer.device(), Role::Parent);
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    let refused = file.admit(&newcomer, newcomer.device(), Role::Tutor);
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    // The same bytes as a tutor's device would write, signed by the phone.
    let good = file
        .clone()
        .admit(&people.laptop, newcomer.device(), Role::Parent)
        .unwrap();
    let forged = sign(3, doc(BookKind::Log, &people.phone), 1, good.bytes.clone());
    assert_eq!(file.accept(&forged), Err(Refused::NotAMember));
    assert!(!belongs(&file, &newcomer));
    file.accept(&good).unwrap();
    assert!(belongs(&file, &newcomer));
}

#[test]
fn of_a_removed_device_stands_what_the_removal_names_and_nothing_beyond() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    let pages: Vec<SignedChange> = (1..=4)
        .map(|id| file.write(phone, Edit::AddPage(page(id, phone))).unwrap())
        .collect();
    // The laptop has seen two of the pages, the second laptop three.
    let mut laptop = people.file();
    accept_all(&mut laptop, &pages[..2]);
    let mut second = people.file();
    accept_all(&mut second, &pages[..3]);
    let removal = laptop.remove(&people.laptop, phone.device()).unwrap();
    assert_eq!(laptop.accept(&pages[2]), Err(Refused::Removed));
    second.accept(&removal).unwrap();
    let settled = second.settle(&people.second_laptop).unwrap();
    assert_eq!(settled.cut, [(doc(BookKind::Home, phone), 2)]);
    assert_eq!(second.view(), laptop.view());
    assert_eq!(second.view().pages.len(), 2);
    // A newcomer takes the two that stand, and no more; whatever clock the others bear.
    let mut fresh = people.file();
    fresh.accept(&removal).unwrap();
    let taken = fresh.accept_all(&pages);
    assert_eq!(taken.iter().filter(|it| it.is_ok()).count(), 2);
    assert!(fresh.settle(phone).unwrap().is_nothing());
    assert_eq!(fresh.view(), laptop.view());
    let refused = fresh.write(phone, Edit::AddPage(page(9, phone)));
    assert_eq!(refused, Err(WriteRefused::NotAMember));
}

#[test]
fn a_device_that_signs_two_pasts_is_left_with_the_one_that_was_vouched_for() {
    let people = People::new();
    let phone = &people.phone;
    let one = people
        .file()
        .write(phone, Edit::AddPage(page(1, phone)))
        .unwrap();
    let other = people
        .file()
        .write(phone, Edit::AddPage(page(2, phone)))
        .unwrap();
    let (mut left, mut right) = (people.file(), people.file());
    left.accept(&one).unwrap();
    right.accept(&other).unwrap();
    assert_eq!(right.accept(&one), Err(Refused::Forked { seq: 1 }));
    let removal = left.remove(&people.laptop, phone.device()).unwrap();
    right.accept(&removal).unwrap();
    let settled = right.settle(&people.second_laptop).unwrap();
    assert_eq!(settled.cut, [(doc(BookKind::Home, phone), 0)]);
    assert_eq!(right.accept(&other), Err(Refused::Forked { seq: 1 }));
    right.accept(&one).unwrap();
    assert_eq!(right.view(), left.view());
}

#[test]
fn what_a_device_writes_in_the_log_while_it_is_removed_does_not_count() {
    let people = People::new();
    let thief = &people.second_laptop;
    let accomplice = Signer::from_secret([66; 32]);
    let (mut at_home, mut stolen) = (people.file(), people.file());
    let removal = at_home.remove(&people.laptop, thief.device()).unwrap();
    // The stolen laptop pretends not to have heard of it.
    let admission = stolen
        .admit(thief, accomplice.device(), Role::Tutor)
        .unwrap();
    let erasure = stolen.erase(thief).unwrap();
    let evil = stolen.clone().write(thief, Edit::SetProfile(profile()));
    assert_eq!(evil, Err(WriteRefused::Missing("pupil")));
    all_hear(
        &mut [at_home, stolen],
        &[removal.clone(), admission, erasure],
    );
    let mut file = people.file();
    file.accept(&removal).unwrap();
    assert!(!belongs(&file, &accomplice) && !belongs(&file, thief));
    assert!(!file.standing().erased);
}

#[test]
fn two_laptops_that_remove_each_other_are_both_out_until_the_paper_key_settles_it() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let paper = Signer::from_secret([90; 32]);
    let mut file = people.file();
    file.name_paper_key(laptop, paper.device()).unwrap();
    file.write(laptop, Edit::SetProfile(profile())).unwrap();
    let (mut left, mut right) = (file.clone(), file.clone());
    let one = left.remove(laptop, second.device()).unwrap();
    let other = right.remove(second, laptop.device()).unwrap();
    let mut files = [left, right];
    all_hear(&mut files, &[one, other]);
    let [mut file, _] = files;
    assert!(!belongs(&file, laptop) && !belongs(&file, second));
    // Parents go on, and what both wrote before stands.
    let phone = &people.phone;
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    assert!(file.settle(phone).unwrap().is_nothing());
    assert_eq!(file.view().profile, Some(profile()));
    let refused = file.write(laptop, Edit::SetTask(task(1)));
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    // The paper says which of them it is.
    file.admit(&paper, laptop.device(), Role::Tutor).unwrap();
    assert!(belongs(&file, laptop) && !belongs(&file, second));
    file.write(laptop, Edit::SetTask(task(1))).unwrap();
}

#[test]
fn with_all_laptops_lost_the_paper_key_admits_a_new_one_and_removes_the_old() {
    let people = People::new();
    let paper = Signer::from_secret([90; 32]);
    let new = Signer::from_secret([91; 32]);
    let mut file = people.file();
    file.name_paper_key(&people.laptop, paper.device()).unwrap();
    file.write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    file.admit(&paper, new.device(), Role::Tutor).unwrap();
    for lost in [&people.laptop, &people.second_laptop] {
        file.remove(&new, lost.device()).unwrap();
    }
    // The paper key cannot write in a book itself.
    let refused = file.write(&paper, Edit::SetTask(task(1)));
    assert_eq!(refused, Err(WriteRefused::NotAMember));
    file.write(&new, Edit::SetTask(task(1))).unwrap();
    let view = file.view();
    assert_eq!((view.tasks.len(), view.profile), (1, Some(profile())));
}

#[test]
fn a_paper_key_is_replaced_by_itself_alone() {
    let people = People::new();
    let [paper, another, false_one] = [90, 91, 92].map(|id| Signer::from_secret([id; 32]));
    let mut file = people.file();
    file.name_paper_key(&people.laptop, paper.device()).unwrap();
    // Whoever holds a laptop alone does not get rid of the paper.
    file.name_paper_key(&people.second_laptop, false_one.device())
        .unwrap();
    assert_eq!(file.standing().paper, [paper.device()].into());
    file.name_paper_key(&paper, another.device()).unwrap();
    assert_eq!(file.standing().paper, [another.device()].into());
    let refused = file.admit(&paper, paper.device(), Role::Tutor);
    assert_eq!(refused, Err(WriteRefused::NotAMember));
}

#[test]
fn a_device_admitted_again_after_its_removal_goes_on() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    file.remove(&people.laptop, phone.device()).unwrap();
    file.admit(&people.laptop, phone.device(), Role::Parent)
        .unwrap();
    file.write(phone, Edit::AddPage(page(2, phone))).unwrap();
    assert_eq!(file.view().pages.len(), 2);
}

#[test]
fn admitted_and_removed_at_once_is_out() {
    let people = People::new();
    let newcomer = Signer::from_secret([7; 32]);
    let (mut left, mut right) = (people.file(), people.file());
    let id = newcomer.device();
    let one = left.admit(&people.laptop, id, Role::Parent).unwrap();
    let two = left.remove(&people.laptop, id).unwrap();
    let three = right
        .admit(&people.second_laptop, id, Role::Parent)
        .unwrap();
    let mut files = [left, right];
    all_hear(&mut files, &[one, two, three]);
    assert!(!belongs(&files[0], &newcomer));
}

#[test]
fn an_entry_of_a_newer_version_is_kept_and_told() {
    let people = People::new();
    let (begun, _) = CaseFile::begin(&people.laptop, [0x11; 16], None);
    let after = begun
        .clone()
        .admit(&people.laptop, people.phone.device(), Role::Parent);
    let mut bytes = after.unwrap().bytes;
    bytes[0] = 2;
    bytes.extend([1, 2, 3]);
    let newer = sign(1, doc(BookKind::Log, &people.laptop), 2, bytes);
    let mut file = begun;
    file.accept(&newer).unwrap();
    assert!(file.view().newer);
    assert_eq!(roles(&file), [(people.laptop.device(), Role::Tutor)]);
    assert_eq!(file.have()[&newer.doc], 2);
}

#[derive(Debug, Clone)]
enum Act {
    Write { who: usize, what: u8, whom: usize },
    Deliver { from: usize, to: usize },
}

const WRITERS: usize = 6;

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        (0..WRITERS, 0..10_u8, 0..5_usize).prop_map(|(who, what, whom)| Act::Write {
            who,
            what,
            whom
        }),
        (0..WRITERS, 0..WRITERS).prop_map(|(from, to)| Act::Deliver { from, to }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..Default::default() })]

    /// Three laptops, a paper key and two phones that may be admitted as laptops write the log as they like,
    /// hearing of one another now and then.
    #[test]
    fn everybody_reads_the_same_from_the_same_entries(
        acts in prop::collection::vec(act(), 1..40),
        shuffle in any::<u64>(),
    ) {
        let people = People::new();
        let third = Signer::from_secret([5; 32]);
        let paper = Signer::from_secret([6; 32]);
        let signers = [
            &people.laptop,
            &people.second_laptop,
            &third,
            &paper,
            &people.phone,
            &people.second_phone,
        ];
        let whom = [&people.laptop, &people.second_laptop, &third, &people.phone, &people.second_phone];
        let mut start = people.file();
        let mut all = people.log();
        all.push(start.admit(&people.laptop, third.device(), Role::Tutor).unwrap());
        all.push(start.name_paper_key(&people.laptop, paper.device()).unwrap());
        let mut files = vec![start; WRITERS];
        let mut known: Vec<Vec<SignedChange>> = vec![all; WRITERS];
        for (number, act) in acts.into_iter().enumerate() {
            match act {
                Act::Write { who, what, whom: at } => {
                    let (file, signer, device) = (&mut files[who], signers[who], whom[at].device());
                    let written = match what {
                        0 => file.admit(signer, device, Role::Parent),
                        1 => file.admit(signer, device, Role::Tutor),
                        2 | 3 => file.remove(signer, device),
                        4 => file.name_paper_key(signer, device),
                        5 => file.name_paper_key(signer, paper.device()),
                        6 => file.erase(signer),
                        7 => {
                            let id = casefile::FoundingId([number as u8 + 1; 8]);
                            let founded = file.found_anew(signer, id, &[[what; 16]], all_held);
                            founded.map(|founded| founded.write[0].clone())
                        }
                        _ => file.admit(signer, device, Role::Tutor),
                    };
                    known[who].extend(written.ok());
                }
                Act::Deliver { from, to } => {
                    let news = known[from].clone();
                    let told = files[to].accept_all(&news);
                    for (change, told) in news.into_iter().zip(told) {
                        if told == Ok(casefile::Accepted::New) {
                            known[to].push(change);
                        }
                    }
                }
            }
        }
        let everything: Vec<SignedChange> = known.into_iter().flatten().collect();
        for file in &mut files {
            file.accept_all(&everything);
        }
        let newcomer = heard_one_by_one(&shuffled(&everything, shuffle));
        let kept = CaseFile::of_kept(pupil(), shuffled(&everything, !shuffle));
        for file in files.iter().chain([&kept]) {
            prop_assert_eq!(file.standing(), newcomer.standing());
            let log = |file: &CaseFile| {
                let mut have = file.have();
                have.retain(|id, _| id.is_log());
                have
            };
            prop_assert_eq!(log(file), log(&newcomer));
        }
    }
}

#[test]
fn a_log_that_is_full_still_takes_removals() {
    let people = People::new();
    let mut file = people.file();
    let mut count = 4;
    let full = loop {
        let mut other = [0; 32];
        other[..8].copy_from_slice(&(count as u64).to_le_bytes());
        let other = DeviceId(other);
        match file.admit(&people.laptop, other, Role::Parent) {
            Ok(_) => count += 1,
            Err(refused) => break refused,
        }
        // Quick enough only if the cost of an entry stays small.
        if count > 2 * casefile::MAX_ENTRIES {
            panic!("the log has no end");
        }
    };
    assert!(matches!(full, WriteRefused::TooLong { .. }));
    file.remove(&people.laptop, people.phone.device()).unwrap();
    assert!(!belongs(&file, &people.phone));
    file.erase(&people.laptop).unwrap();
    assert!(file.standing().erased);
}
