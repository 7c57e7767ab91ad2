//! What a laptop that is removed could do to the foundings, and by them: it rewrites nothing in another's name,
//! stands in nobody's way, and takes nothing along that others wrote.

use automerge::{
    ROOT, ScalarValue,
    transaction::{CommitOptions, Transactable, Transaction},
};
use casefile::{BookKind, CaseFile, Edit, FoundingId, SignedChange, Signer};
use units::{ReadingId, Role};

use crate::fixtures::*;
use crate::founding::{PAGE, page_id, practice_of_a_term, text};

/// The words of a page.
fn words(file: &CaseFile, at: u8) -> String {
    let view = file.view();
    let text = view.page(page_id(at)).unwrap().text.clone();
    text.unwrap().join("/")
}

/// The first laptop and the phone, which have both heard of all that was written in a term.
fn desk_and_home(people: &People) -> (CaseFile, CaseFile, Vec<SignedChange>) {
    let (desk, changes) = practice_of_a_term(people);
    let mut home = people.file();
    home.accept_all(&changes);
    (desk, home, changes)
}

/// The second laptop, which founded anew, is removed by the first, which has not heard of that; then the books
/// are founded anew once more, and the phone brings what is its own.
fn undo(desk: &mut CaseFile, home: &mut CaseFile, people: &People, founded: &[SignedChange]) {
    let removal = desk.remove(&people.laptop, people.second_laptop.device());
    home.accept(&removal.unwrap()).unwrap();
    home.settle(&people.phone).unwrap();
    desk.accept(&founded[0]).unwrap();
    let again = found(desk, &people.laptop, 0x61, &[]);
    home.accept_all(&again.write);
    let carried = home.settle(&people.phone).unwrap();
    desk.accept_all(&carried.write);
    assert_eq!(desk.view(), home.view());
}

/// The next change of the second laptop's own document, made by hand.
fn next_by_hand(
    people: &People,
    changes: &[SignedChange],
    put: impl FnOnce(&mut Transaction<'_>),
) -> SignedChange {
    let id = doc(BookKind::Tutor, &people.second_laptop);
    let mut document = raw_document(&id);
    let before = changes.iter().filter(|change| change.doc == id);
    let before: Vec<automerge::Change> = before
        .map(|change| automerge::Change::try_from(change.bytes.as_slice()).unwrap())
        .collect();
    let seq = before.len() as u64 + 1;
    document.apply_changes(before).unwrap();
    let options = CommitOptions::default().with_time(0);
    sign(2, id, seq, raw_change(&mut document, options, put))
}

/// One that gives out a text to be by the phone.
fn claimed(people: &People, changes: &[SignedChange]) -> SignedChange {
    let time = 1_000_u64;
    let by = [&people.phone.device().0[..], &time.to_le_bytes()].concat();
    let key = format!("text/{}", page_id(1));
    next_by_hand(people, changes, |puts| {
        puts.put(ROOT, format!("by/{key}"), ScalarValue::Bytes(by))
            .unwrap();
        puts.put(ROOT, format!("{key}@"), ScalarValue::Uint(time))
            .unwrap();
        puts.put(ROOT, key, "made up\n").unwrap();
    })
}

#[test]
fn words_of_a_familys_that_a_seed_alters_do_not_come_back_altered() {
    let people = People::new();
    let (thief, phone) = (&people.second_laptop, &people.phone);
    let (mut desk, mut home, _) = desk_and_home(&people);
    let mut stolen = home.clone();
    // At the same logical time.
    written(&mut home, vec![(phone, text(page_id(2), "a red boat"))]);
    written(&mut stolen, vec![(phone, text(page_id(2), "made up"))]);
    let founded = found(&mut stolen, thief, 0x50, &[]);
    home.accept_all(&founded.write);
    home.settle(phone).unwrap();
    undo(&mut desk, &mut home, &people, &founded.write);
    assert_ne!(words(&desk, 2), "made up");
}

#[test]
fn figures_that_a_laptop_put_on_a_familys_page_go_with_its_seed() {
    let people = People::new();
    let (thief, phone) = (&people.second_laptop, &people.phone);
    let (mut desk, mut home, _) = desk_and_home(&people);
    let mut stolen = home.clone();
    let reading = reading(0xEE);
    let made_up = Edit::AddReading {
        page: page_id(0),
        reading,
    };
    written(&mut stolen, vec![(thief, made_up)]);
    let founded = found(&mut stolen, thief, 0x50, &[]);
    home.accept_all(&founded.write);
    home.settle(phone).unwrap();
    let there = |file: &CaseFile| {
        let view = file.view();
        let readings = view.page(page_id(0)).unwrap().readings.iter();
        readings.map(|it| it.id).collect::<Vec<_>>()
    };
    assert!(there(&home).contains(&ReadingId([0xEE; 16])));
    undo(&mut desk, &mut home, &people, &founded.write);
    // The family's own are there.
    assert_eq!(there(&desk).len(), 1);
    assert!(!there(&desk).contains(&ReadingId([0xEE; 16])));
}

#[test]
fn what_a_laptop_gives_out_as_a_familys_before_it_founds_anew_does_not_come_back() {
    let people = People::new();
    let (thief, phone) = (&people.second_laptop, &people.phone);
    let (mut desk, mut home, changes) = desk_and_home(&people);
    let mut stolen = home.clone();
    let claimed = claimed(&people, &changes);
    stolen.accept(&claimed).unwrap();
    home.accept(&claimed).unwrap();
    assert_eq!(words(&home, 1), "made up");
    let founded = found(&mut stolen, thief, 0x50, &[]);
    home.accept_all(&founded.write);
    home.settle(phone).unwrap();
    undo(&mut desk, &mut home, &people, &founded.write);
    assert_ne!(words(&desk, 1), "made up");
}

#[test]
fn a_family_does_not_make_its_own_what_a_laptop_gives_out_as_its() {
    let people = People::new();
    let (laptop, thief, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut home, changes) = desk_and_home(&people);
    home.accept(&claimed(&people, &changes)).unwrap();
    // The first laptop founds anew without having heard of it.
    let founded = found(&mut desk, laptop, 0x50, &[]);
    home.accept_all(&founded.write);
    let carried = home.settle(phone).unwrap();
    let removal = desk.remove(laptop, thief.device()).unwrap();
    home.accept(&removal).unwrap();
    home.settle(phone).unwrap();
    desk.accept_all(&carried.write);
    for file in [&desk, &home] {
        assert_ne!(words(file, 1), "made up");
    }
}

#[test]
fn what_a_phone_left_to_a_seed_comes_back_though_it_was_corrected_there_since() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut home, changes) = desk_and_home(&people);
    let mine = written(&mut home, vec![(phone, text(page_id(2), "a red boat"))]);
    desk.accept_all(&mine);
    let first = found(&mut desk, laptop, 0x50, &[]);
    home.accept_all(&first.write);
    home.settle(phone).unwrap();
    let mut other = people.file();
    for heard in [&changes, &mine, &first.write] {
        other.accept_all(heard);
    }
    other.settle(second).unwrap();
    // The first laptop corrects the text; the second founds anew without having heard of it, and breaks.
    let over = written(&mut desk, vec![(laptop, text(page_id(2), "a blue boat"))]);
    home.accept_all(&over);
    let again = found(&mut other, second, 0x51, &[]);
    home.accept_all(&again.write);
    home.settle(phone).unwrap();
    undo(&mut desk, &mut home, &people, &again.write);
    assert_eq!(words(&desk, 2), "a blue boat");
    // And without the correction.
    let (mut desk, _) = practice_of_a_term(&people);
    let mut home = people.file();
    for heard in [&changes, &mine, &first.write] {
        home.accept_all(heard);
        desk.accept_all(heard);
    }
    home.settle(phone).unwrap();
    desk.settle(laptop).unwrap();
    home.accept_all(&again.write);
    home.settle(phone).unwrap();
    undo(&mut desk, &mut home, &people, &again.write);
    assert_eq!(words(&desk, 2), "a red boat");
}

#[test]
fn a_page_that_another_laptop_carried_over_stays_when_that_one_is_removed() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut home, _) = desk_and_home(&people);
    let mut bag = home.clone();
    let mine = written(
        &mut home,
        vec![(phone, Edit::AddPage(page(PAGE + 6, phone)))],
    );
    bag.accept_all(&mine);
    let founded = found(&mut desk, laptop, 0x50, &[]);
    bag.accept_all(&founded.write);
    let carried = bag.settle(second).unwrap();
    // The seed and what the second laptop carried over arrive together.
    home.accept_all(&founded.write);
    home.accept_all(&carried.write);
    let carried = home.settle(phone).unwrap();
    // The first laptop removes the second, of which it has heard nothing.
    let removal = desk.remove(laptop, second.device()).unwrap();
    home.accept(&removal).unwrap();
    home.settle(phone).unwrap();
    desk.accept_all(&carried.write);
    assert_eq!(desk.view(), home.view());
    assert!(home.view().page(page_id(6)).is_some());
}

#[test]
fn a_page_that_a_laptop_read_again_before_it_founded_anew_keeps_the_familys_reading() {
    let people = People::new();
    let (second, phone) = (&people.second_laptop, &people.phone);
    let (mut desk, mut home, _) = desk_and_home(&people);
    let mut bag = home.clone();
    // Of this page only the phone and the second laptop know.
    let (page_id, first, again) = (page_id(6), reading(0x66), reading(0x67));
    let mine = [
        Edit::AddPage(page(PAGE + 6, phone)),
        Edit::AddReading {
            page: page_id,
            reading: first.clone(),
        },
    ];
    let mine = written(&mut home, mine.map(|edit| (phone, edit)).into());
    bag.accept_all(&mine);
    let read_again = Edit::AddReading {
        page: page_id,
        reading: again,
    };
    written(&mut bag, vec![(second, read_again)]);
    let founded = found(&mut bag, second, 0x50, &[]);
    home.accept_all(&founded.write);
    home.settle(phone).unwrap();
    undo(&mut desk, &mut home, &people, &founded.write);
    let kept = desk.view().page(page_id).unwrap().readings.clone();
    assert!(kept.iter().any(|it| it.id == first.id), "{kept:?}");
}

#[test]
fn a_family_that_followed_a_lost_founding_is_fetched_back_whatever_lower_one_was_lost_before() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let third = Signer::from_secret([7; 32]);
    let (mut desk, mut home, changes) = desk_and_home(&people);
    let mut heard = vec![desk.admit(laptop, third.device(), Role::Tutor).unwrap()];
    let mut bag = home.clone();
    bag.accept_all(&heard);
    // Of the second laptop's founding the entry alone gets out; the first laptop founds anew.
    let lost = found(&mut bag, second, 1, &[]);
    desk.accept(&lost.write[0]).unwrap();
    heard.push(lost.write[0].clone());
    heard.push(desk.remove(laptop, second.device()).unwrap());
    heard.extend(found(&mut desk, laptop, 5, &[]).write);
    home.accept_all(&heard);
    home.settle(phone).unwrap();
    // A third laptop founds anew after that, the phone follows, and the third breaks too.
    let mut three = people.file();
    three.accept_all(&changes);
    three.accept_all(&heard);
    three.settle(&third).unwrap();
    let beyond = found(&mut three, &third, 6, &[]);
    home.accept_all(&beyond.write);
    home.settle(phone).unwrap();
    desk.accept(&beyond.write[0]).unwrap();
    let removal = desk.remove(laptop, third.device()).unwrap();
    home.accept(&removal).unwrap();
    home.settle(phone).unwrap();
    let page = Edit::AddPage(page(PAGE + 7, phone));
    written(&mut home, vec![(phone, page)]);
    assert!(desk.owes_founding());
    let again = found(&mut desk, laptop, 7, &[]);
    assert!(!desk.owes_founding());
    home.accept_all(&again.write);
    desk.accept_all(&home.settle(phone).unwrap().write);
    assert_eq!(desk.view(), home.view());
    assert!(desk.view().page(page_id(7)).is_some());
}

#[test]
fn no_key_that_a_family_makes_up_stands_in_the_way_of_a_founding() {
    let people = People::new();
    let mark = units::MarkId([0xD0; 16]);
    for keys in [
        vec![format!("reply/text/{}", page_id(2))],
        vec![format!("reply/mark/{mark}"), format!("reply/{mark}")],
    ] {
        let (mut desk, _) = practice_of_a_term(&people);
        written(
            &mut desk,
            vec![(&people.phone, text(page_id(2), "a red boat"))],
        );
        let id = doc(BookKind::Home, &people.second_phone);
        let options = CommitOptions::default().with_time(0);
        let bytes = raw_change(&mut raw_document(&id), options, |puts| {
            for key in &keys {
                puts.put(ROOT, key, ScalarValue::Bytes(vec![1, 2, 3]))
                    .unwrap();
            }
        });
        desk.accept(&sign(4, id, 1, bytes)).unwrap();
        let before = desk.view();
        found(&mut desk, &people.second_laptop, 9, &[]);
        let after = desk.view();
        assert_eq!(after.marks, before.marks, "{keys:?}");
        assert_eq!(words(&desk, 2), "a red boat");
    }
}

#[test]
fn a_chain_of_foundings_that_nobody_can_follow_stands_in_nobodys_way() {
    let people = People::new();
    let (laptop, thief) = (&people.laptop, &people.second_laptop);
    let (mut desk, changes) = practice_of_a_term(&people);
    // The thief founds anew again and again; the first of them gives out only the entries.
    let mut stolen = people.file();
    stolen.accept_all(&changes);
    let mut entries = Vec::new();
    for id in [5, 6, 4] {
        entries.push(found(&mut stolen, thief, id, &[]).write[0].clone());
    }
    desk.accept_all(&entries);
    assert_ne!(desk.standing().founding_id(), FoundingId::FIRST);
    desk.remove(laptop, thief.device()).unwrap();
    assert_eq!(desk.standing().founding_id(), FoundingId::FIRST);
    assert!(desk.owes_founding());
    found(&mut desk, laptop, 9, &[page_id(1).0]);
    assert!(!desk.owes_founding());
}

#[test]
fn a_phone_does_not_go_back_sideways_into_books_that_it_let_go() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut home, changes) = desk_and_home(&people);
    let add = |at| (phone, Edit::AddPage(page(PAGE + at, phone)));
    // Two found anew at once; the phone follows the one, writes, and then follows the other, of the lower name.
    let high = found(&mut desk, laptop, 7, &[]);
    home.accept_all(&high.write);
    home.settle(phone).unwrap();
    desk.accept_all(&written(&mut home, vec![add(6)]));
    let mut other = people.file();
    other.accept_all(&changes);
    let low = found(&mut other, second, 5, &[]);
    home.accept_all(&low.write);
    home.settle(phone).unwrap();
    written(&mut home, vec![add(7)]);
    // The laptop of the lower one breaks, and is removed by the first, which has not heard of it.
    let removal = desk.remove(laptop, second.device()).unwrap();
    home.accept(&removal).unwrap();
    home.settle(phone).unwrap();
    home.accept_all(&high.write[1..]);
    assert!(home.settle(phone).unwrap().write.is_empty());
    desk.accept(&low.write[0]).unwrap();
    assert!(desk.owes_founding());
    let again = found(&mut desk, laptop, 9, &[]);
    assert!(!desk.owes_founding());
    home.accept_all(&again.write);
    let carried = home.settle(phone).unwrap();
    let taken = desk.accept_all(&carried.write);
    assert!(taken.iter().all(Result::is_ok), "{taken:?}");
    assert_eq!(desk.view(), home.view());
    for at in [6, 7] {
        assert!(desk.view().page(page_id(at)).is_some());
    }
}

/// The first and the third laptop, and what both have heard of.
fn with_a_third(people: &People) -> (CaseFile, CaseFile, Signer) {
    let third = Signer::from_secret([7; 32]);
    let (mut desk, changes) = practice_of_a_term(people);
    let admitted = desk.admit(&people.laptop, third.device(), Role::Tutor);
    let mut three = people.file();
    three.accept_all(&changes);
    three.accept(&admitted.unwrap()).unwrap();
    (desk, three, third)
}

#[test]
fn no_key_that_a_laptop_makes_up_keeps_another_from_following() {
    let people = People::new();
    let (mut desk, mut three, third) = with_a_third(&people);
    let mark = units::MarkId([0x77; 16]);
    let devices = [people.phone.device().0, people.second_phone.device().0];
    let made_up = next_by_hand(&people, &practice_of_a_term(&people).1, |puts| {
        for key in [
            format!("amend/{mark}"),
            format!("mark/{mark}"),
            format!("page/mark/{mark}"),
        ] {
            puts.put(ROOT, key, ScalarValue::Bytes(vec![1, 2, 3]))
                .unwrap();
        }
        for (key, device) in [
            (format!("by/mark/{mark}"), devices[0]),
            (format!("by/page/mark/{mark}"), devices[1]),
        ] {
            puts.put(ROOT, key, ScalarValue::Bytes(device.to_vec()))
                .unwrap();
        }
    });
    three.accept(&made_up).unwrap();
    let founded = found(&mut desk, &people.laptop, 9, &[]);
    three.accept_all(&founded.write);
    three.settle(&third).unwrap();
    assert_eq!(three.view().pages, desk.view().pages);
}

#[test]
fn what_a_laptop_wrote_over_anothers_goes_with_it_and_the_other_stands() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut desk, mut three, third) = with_a_third(&people);
    let mut bag = three.clone();
    bag.accept_all(&written(
        &mut three,
        vec![(&third, text(page_id(2), "a red boat"))],
    ));
    three.accept_all(&written(
        &mut bag,
        vec![(second, text(page_id(2), "a blue boat"))],
    ));
    // The first laptop founds anew before it has heard of either.
    let founded = found(&mut desk, laptop, 9, &[]);
    for file in [&mut bag, &mut three] {
        file.accept_all(&founded.write);
    }
    three.accept_all(&bag.settle(second).unwrap().write);
    let carried = three.settle(&third).unwrap();
    assert_eq!(words(&three, 2), "a blue boat");
    let removal = desk.remove(laptop, second.device()).unwrap();
    three.accept(&removal).unwrap();
    three.settle(&third).unwrap();
    desk.accept_all(&carried.write);
    for file in [&desk, &three] {
        assert_eq!(words(file, 2), "a red boat");
    }
}

#[test]
fn books_whose_seed_everybody_let_go_for_one_that_does_not_hold_are_founded_from_what_is_left() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut three, third) = with_a_third(&people);
    let mut bag = three.clone();
    let mut home = three.clone();
    let mut away = three.clone();
    let first = found(&mut desk, laptop, 4, &[]);
    for (file, signer) in [(&mut bag, second), (&mut home, phone)] {
        file.accept_all(&first.write);
        file.settle(signer).unwrap();
    }
    let mine = written(
        &mut home,
        vec![(phone, Edit::AddPage(page(PAGE + 6, phone)))],
    );
    bag.accept_all(&mine);
    let again = found(&mut bag, second, 5, &[]);
    for (file, signer) in [(&mut desk, laptop), (&mut home, phone)] {
        file.accept_all(&again.write);
        file.settle(signer).unwrap();
    }
    // The third, in a drawer all that time, removes the second.
    let removal = three.remove(&third, second.device()).unwrap();
    let entries = [first.write[0].clone(), again.write[0].clone(), removal];
    for (file, signer) in [
        (&mut desk, laptop),
        (&mut home, phone),
        (&mut three, &third),
        (&mut away, &people.second_phone),
    ] {
        file.accept_all(&entries);
        file.settle(signer).unwrap();
        assert_eq!(file.standing().founding_id(), FoundingId([4; 8]));
        // By itself no laptop vouches for what one that was removed has founded.
        assert!(file.standing().adrift && !file.owes_founding());
    }
    // Each of them can, and so can both at once, whichever is the lower.
    for founders in [
        vec![(8, 0)],
        vec![(8, 1)],
        vec![(8, 0), (9, 1)],
        vec![(9, 0), (8, 1)],
    ] {
        let mut all = [
            (desk.clone(), laptop),
            (three.clone(), &third),
            (home.clone(), phone),
            (away.clone(), &people.second_phone),
        ];
        let mut said = Vec::new();
        for (name, at) in founders {
            let (file, signer) = &mut all[at];
            said.extend(found(file, signer, name, &[page_id(1).0]).write);
        }
        // Three rounds, for what one carries over comes to the others in the next.
        for _ in 0..3 {
            for (file, signer) in &mut all {
                file.accept_all(&said);
                said.extend(file.settle(signer).unwrap().write);
            }
        }
        for (file, _) in &all {
            assert_eq!(file.standing().founding_id(), FoundingId([8; 8]));
            assert!(!file.standing().adrift);
            assert_eq!(file.view(), all[0].0.view());
            assert!(file.view().page(page_id(1)).is_none());
            for at in [0, 2, 6] {
                assert!(file.view().page(page_id(at)).is_some());
            }
        }
    }
}
