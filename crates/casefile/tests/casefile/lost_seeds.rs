//! Foundings by laptops that are removed: what stood in their seeds alone outlives them, and what they made up
//! does not.

use casefile::{CaseFile, Edit, FoundingId, SignedChange, WriteRefused};
use units::{MarkId, PageId};

use crate::fixtures::*;
use crate::founding::{ANEW, PAGE, page_id, practice_of_a_term, text};

#[test]
fn a_page_survives_the_removal_of_a_laptop_that_alone_had_heard_of_it() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut behind, mut changes) = practice_of_a_term(&people);
    let parents = [&people.phone, &people.second_phone];
    let mut ahead = people.file();
    ahead.accept_all(&changes);
    let added = written(
        &mut ahead,
        vec![(&people.phone, Edit::AddPage(page(PAGE + 6, &people.phone)))],
    );
    changes.extend(added.clone());
    let founded = ahead.found_anew(second, ANEW, &[], all_held).unwrap();
    let mut phones = parents.map(|phone| {
        let mut file = people.file();
        file.accept_all(&changes);
        file.accept_all(&founded.write);
        // The page stands in the laptop's seed, and nowhere else any more.
        assert!(said(&file.settle(phone).unwrap().write).is_empty());
        file
    });
    // The second laptop breaks; the first, which has not heard of any of this, removes it.
    let removal = behind.remove(laptop, second.device()).unwrap();
    for (file, phone) in phones.iter_mut().zip(parents) {
        file.accept(&removal).unwrap();
        let settled = file.settle(phone).unwrap();
        assert!(settled.cut.is_empty());
        assert!(file.view().page(page_id(6)).is_some());
    }
    behind.accept(&founded.write[0]).unwrap();
    assert!(behind.owes_founding());
    let again = FoundingId([3; 8]);
    let again = behind.found_anew(laptop, again, &[], all_held).unwrap();
    let mut carried = Vec::new();
    for (file, phone) in phones.iter_mut().zip(parents) {
        file.accept_all(&again.write);
        carried.extend(file.settle(phone).unwrap().write);
    }
    for file in phones.iter_mut().chain([&mut behind]) {
        file.accept_all(&carried);
        let view = file.view();
        let there = view.page(page_id(6)).expect("the page is there");
        assert_eq!(there.added_by, people.phone.device());
        assert!(!file.owes_founding());
    }
    assert_eq!(phones[0].view(), behind.view());
    assert_eq!(phones[0].have(), behind.have());
}

#[test]
fn all_that_a_family_wrote_survives_the_removal_of_a_laptop_that_alone_had_heard_of_it() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut behind, changes) = practice_of_a_term(&people);
    let mut home = people.file();
    home.accept_all(&changes);
    let minutes = Edit::SetMinutes {
        page: page_id(2),
        minutes: Some(17),
    };
    let edits = vec![
        (phone, text(page_id(1), "the boat was read")),
        (phone, minutes),
        (phone, Edit::TakePageOut(page_id(0))),
        (phone, Edit::AddPractised(practised(0x31))),
        (phone, Edit::AddSetUp(setup(0x32))),
        (phone, Edit::AddReply(reply(0x33, PAGE + 1, phone))),
        (phone, Edit::AskToForget(ask(0x34, phone))),
        // The second laptop writes over this later, and is removed without anybody having heard of that.
        (phone, text(page_id(2), "a red boat")),
    ];
    let mut heard = home.clone();
    heard.accept_all(&written(&mut home, edits));
    let founded = found(&mut heard, second, 0x50, &[]);
    home.accept_all(&founded.write);
    // But that a page is taken out, nothing need be said anew.
    let again = said(&home.settle(phone).unwrap().write);
    assert_eq!(again, [format!("gone/{}", page_id(0))]);
    let over = heard.write(second, text(page_id(2), "not so")).unwrap();
    home.accept(&over).unwrap();
    let view = home.view();
    let removal = behind.remove(laptop, second.device()).unwrap();
    home.accept(&removal).unwrap();
    home.settle(phone).unwrap();
    behind.accept(&founded.write[0]).unwrap();
    let again = found(&mut behind, laptop, 0x51, &[]);
    home.accept_all(&again.write);
    let carried = home.settle(phone).unwrap();
    behind.accept_all(&carried.write);
    for file in [&home, &behind] {
        let after = file.view();
        let words = |page| after.page(page).unwrap().text.clone().unwrap();
        assert_eq!(words(page_id(1)), ["the boat was read"]);
        assert_ne!(words(page_id(2)), ["not so"]);
        assert_eq!(after.page(page_id(2)).unwrap().minutes, Some(17));
        assert!(after.page(page_id(0)).is_none());
        assert_eq!(after.practised, view.practised);
        assert_eq!(after.setups, view.setups);
        // Those on the page that was taken out are there again, and go with it.
        assert!(view.replies.iter().all(|it| after.replies.contains(it)));
        assert_eq!(after.asks, view.asks);
    }
}

/// What a removed laptop says of a phone's page that the phone never wrote: as part of the seed, or as a change
/// after it.
#[test]
fn nothing_that_a_removed_laptop_says_to_be_by_a_phone_comes_back_by_way_of_it() {
    let people = People::new();
    let (laptop, thief, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    for in_seed in [true, false] {
        let (mut desk, changes) = practice_of_a_term(&people);
        let mut home = people.file();
        home.accept_all(&changes);
        let mut stolen = home.clone();
        let mine = written(&mut home, vec![(phone, text(page_id(2), "a red boat"))]);
        stolen.accept_all(&mine);
        if in_seed {
            // Nobody but the laptop ever hears of these: to the phone they are made up.
            let page = Edit::AddPage(page(PAGE + 9, phone));
            written(
                &mut stolen,
                vec![(phone, text(page_id(1), "made up")), (phone, page)],
            );
        }
        let founded = found(&mut stolen, thief, 0x50, &[]);
        home.accept_all(&founded.write);
        home.settle(phone).unwrap();
        if !in_seed {
            home.accept(&claimed(&founded.write[1..], page_id(1)))
                .unwrap();
        }
        let said = home.view().page(page_id(1)).unwrap().text.clone();
        assert_eq!(said.unwrap(), ["made up"]);
        let removal = desk.remove(laptop, thief.device()).unwrap();
        home.accept(&removal).unwrap();
        home.settle(phone).unwrap();
        desk.accept(&founded.write[0]).unwrap();
        let again = found(&mut desk, laptop, 0x51, &[]);
        home.accept_all(&again.write);
        let carried = home.settle(phone).unwrap();
        desk.accept_all(&carried.write);
        for file in [&home, &desk] {
            let view = file.view();
            let words = |at| view.page(page_id(at)).unwrap().text.clone();
            assert_ne!(words(1).unwrap(), ["made up"]);
            assert!(view.page(page_id(9)).is_none());
            // What it wrote in truth comes back all the same.
            assert_eq!(words(2).unwrap(), ["a red boat"]);
        }
    }
}

/// A change after a seed of the second laptop's, which says that the phone has corrected a text.
fn claimed(seed: &[SignedChange], page: PageId) -> SignedChange {
    use automerge::{Change, ROOT, ScalarValue, transaction::Transactable};
    let id = seed[0].doc;
    let mut document = raw_document(&id);
    let before = seed
        .iter()
        .map(|it| Change::try_from(it.bytes.as_slice()).unwrap());
    document.apply_changes(before).unwrap();
    let time = 1_000_u64;
    let phone = People::new().phone.device();
    let by = [&phone.0[..], &time.to_le_bytes()].concat();
    let key = format!("text/{page}");
    let options = automerge::transaction::CommitOptions::default().with_time(0);
    let bytes = raw_change(&mut document, options, |puts| {
        puts.put(ROOT, format!("by/{key}"), ScalarValue::Bytes(by))
            .unwrap();
        puts.put(ROOT, format!("{key}@"), time).unwrap();
        puts.put(ROOT, key, "made up\n").unwrap();
    });
    sign(2, id, seed.len() as u64 + 1, bytes)
}

#[test]
fn nothing_that_a_removed_laptop_put_in_its_own_seed_is_carried_over() {
    let people = People::new();
    let (laptop, thief, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, changes) = practice_of_a_term(&people);
    let mut stolen = people.file();
    stolen.accept_all(&changes);
    let mut third = stolen.clone();
    written(
        &mut stolen,
        vec![(thief, Edit::AddMark(mark(0xDD, PAGE, thief)))],
    );
    let founded = stolen.found_anew(thief, ANEW, &[], all_held).unwrap();
    third.accept_all(&founded.write);
    third.settle(phone).unwrap();
    let removal = desk.remove(laptop, thief.device()).unwrap();
    desk.accept(&founded.write[0]).unwrap();
    let again = FoundingId([3; 8]);
    let again = desk.found_anew(laptop, again, &[], all_held).unwrap();
    third.accept(&removal).unwrap();
    third.accept_all(&again.write);
    let carried = third.settle(phone).unwrap();
    desk.accept_all(&carried.write);
    for file in [&desk, &third] {
        let mut marks = file.view().marks.into_iter();
        assert!(marks.all(|mark| mark.id != MarkId([0xDD; 16])));
    }
}

#[test]
fn a_founding_whose_seed_nobody_can_bring_any_more_does_not_hold() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut file, changes) = practice_of_a_term(&people);
    let before = file.view();
    let mut lost = people.file();
    lost.accept_all(&changes);
    let founded = lost.found_anew(second, ANEW, &[], all_held).unwrap();
    // Only the entry gets out before the laptop is lost.
    file.accept(&founded.write[0]).unwrap();
    file.settle(laptop).unwrap();
    let refused = file.found_anew(laptop, FoundingId([3; 8]), &[], all_held);
    assert_eq!(refused, Err(WriteRefused::OnTheirWay));
    let removal = file.remove(laptop, second.device()).unwrap();
    assert_eq!(file.standing().founding_id(), FoundingId::FIRST);
    assert!(file.owes_founding());
    let again = file
        .found_anew(laptop, FoundingId([3; 8]), &[page_id(1).0], all_held)
        .unwrap();
    assert_eq!(file.view().pages.len() + 1, before.pages.len());
    // Whoever had followed comes along, and so does a device that is new.
    let mut followed = people.file();
    followed.accept_all(&changes);
    followed.accept_all(&founded.write);
    followed.settle(&people.phone).unwrap();
    let mut log = people.log();
    log.extend([founded.write[0].clone(), removal.clone()]);
    for file_of in [&mut followed, &mut CaseFile::of_kept(pupil(), log)] {
        file_of.accept(&removal).unwrap();
        file_of.accept_all(&again.write);
        file_of.settle(&people.phone).unwrap();
        assert_eq!(file_of.view(), file.view());
        assert!(!file_of.owes_founding());
    }
    // Where the one that removes it has the whole seed, it holds.
    let (mut holds, _) = practice_of_a_term(&people);
    holds.accept_all(&founded.write);
    holds.settle(laptop).unwrap();
    holds.remove(laptop, second.device()).unwrap();
    assert_eq!(holds.standing().founding_id(), ANEW);
    assert!(!holds.owes_founding());
}

#[test]
fn a_founding_holds_whose_own_seed_was_let_go_for_a_later_one() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut file, changes) = practice_of_a_term(&people);
    let mut other = people.file();
    other.accept_all(&changes);
    // The second laptop founds anew, everybody follows, and then the first does.
    let first = found(&mut other, second, 5, &[]);
    file.accept_all(&first.write);
    file.settle(laptop).unwrap();
    let mut home = file.clone();
    found(&mut file, laptop, 7, &[]);
    file.remove(laptop, second.device()).unwrap();
    assert_eq!(file.standing().founding_id(), FoundingId([7; 8]));
    assert!(!file.owes_founding());
    // Or it founds anew again, and the first follows that at once.
    let again = found(&mut other, second, 6, &[]);
    home.accept_all(&again.write);
    home.settle(laptop).unwrap();
    let removal = home.remove(laptop, second.device()).unwrap();
    assert_eq!(home.standing().founding_id(), FoundingId([6; 8]));
    assert!(!home.owes_founding());
    let mut fresh = CaseFile::of_kept(pupil(), people.log());
    fresh.accept_all(&[&first.write[..1], &again.write, &[removal]].concat());
    fresh.settle(phone).unwrap();
    assert_eq!(fresh.view(), home.view());
    found(&mut home, laptop, 8, &[]);
}

#[test]
fn of_two_that_founded_anew_twice_at_once_one_holds_whichever_is_removed() {
    for (ours, theirs) in [(1, 2), (2, 1)] {
        let people = People::new();
        let (laptop, second) = (&people.laptop, &people.second_laptop);
        let (mut file, changes) = practice_of_a_term(&people);
        let mut other = people.file();
        other.accept_all(&changes);
        let mut mine = found(&mut file, laptop, ours, &[]).write;
        mine.extend(found(&mut file, laptop, ours + 2, &[]).write);
        let mut its = found(&mut other, second, theirs, &[]).write;
        its.extend(found(&mut other, second, theirs + 2, &[]).write);
        file.accept_all(&its);
        file.settle(laptop).unwrap();
        let stands = file.standing().founding_id();
        file.remove(laptop, second.device()).unwrap();
        assert_eq!(file.standing().founding_id(), stands);
        assert!(!file.owes_founding());
        found(&mut file, laptop, 9, &[page_id(1).0]);
    }
}
