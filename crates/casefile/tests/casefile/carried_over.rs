//! What devices wrote while the books were founded anew elsewhere, and carry over.

use casefile::{CaseFile, Edit, FoundingId};
use units::{MarkId, Moment, PageId, ReadingRecord};

use crate::fixtures::*;
use crate::founding::{ANEW, PAGE, page_id, practice_of_a_term};

#[test]
fn late_edits_are_carried_over_but_those_that_touch_what_is_forgotten() {
    let people = People::new();
    let (mut file, changes) = practice_of_a_term(&people);
    let (phone, second) = (&people.phone, &people.second_laptop);
    let mut away = people.file();
    away.accept_all(&changes);
    let mut other = away.clone();
    let settled = file
        .found_anew(&people.laptop, ANEW, &[page_id(0).0], all_held)
        .unwrap();
    // Meanwhile the phone adds a page, answers on the page that goes, sets a text, and the second
    // laptop marks and renames.
    let text = Some(vec!["a late text".to_owned()]);
    let mut late = written(
        &mut away,
        vec![
            (phone, Edit::AddPage(page(PAGE + 5, phone))),
            (phone, Edit::AddReply(reply(9, PAGE, phone))),
            (
                phone,
                Edit::SetText {
                    page: page_id(1),
                    text: text.clone(),
                },
            ),
        ],
    );
    late.extend(written(
        &mut other,
        vec![
            (second, Edit::AddMark(mark(0xDD, PAGE + 2, second))),
            (second, Edit::AddMark(mark(0xDE, PAGE, second))),
            (
                second,
                Edit::SetProfile(units::Profile {
                    name: "Robin".into(),
                    ..profile()
                }),
            ),
        ],
    ));
    away.accept_all(&settled.write);
    other.accept_all(&settled.write);
    let from_phone = away.settle(phone).unwrap();
    let from_second = other.settle(second).unwrap();
    assert_eq!((from_phone.dropped, from_second.dropped), (1, 1));
    let mut all = from_phone.write.clone();
    all.extend(from_second.write.clone());
    for each in [&mut file, &mut away, &mut other] {
        each.accept_all(&all);
        each.settle(&people.laptop).unwrap();
    }
    assert_eq!(file.view(), away.view());
    assert_eq!(file.view(), other.view());
    let view = file.view();
    let ids: Vec<PageId> = view.pages.iter().map(|page| page.id).collect();
    assert!(ids.contains(&page_id(5)) && !ids.contains(&page_id(0)));
    assert_eq!(view.page(page_id(1)).unwrap().text, text);
    assert_eq!(view.page(page_id(5)).unwrap().added_by, phone.device());
    assert_eq!(view.profile.as_ref().unwrap().name, "Robin");
    let marks: Vec<MarkId> = view.marks.iter().map(|mark| mark.id).collect();
    assert!(marks.contains(&MarkId([0xDD; 16])) && !marks.contains(&MarkId([0xDE; 16])));
    // The late changes themselves are taken by nobody any more.
    assert!(file.accept_all(&late).iter().all(Result::is_err));
}

#[test]
fn a_reading_made_anew_is_kept_for_a_page_that_another_device_is_yet_to_carry_over() {
    let people = People::new();
    let (phone, second) = (&people.phone, &people.second_laptop);
    let (mut file, mut changes) = practice_of_a_term(&people);
    let mut adds = people.file();
    adds.accept_all(&changes);
    let mut reads = adds.clone();
    let settled = file
        .found_anew(&people.laptop, ANEW, &[], all_held)
        .unwrap();
    // The second laptop adds a page, of which only the phone hears, and it measures it again.
    let added = written(
        &mut adds,
        vec![(second, Edit::AddPage(page(PAGE + 5, second)))],
    );
    reads.accept_all(&added);
    let again = reading(0x99);
    let edit = Edit::AddReading {
        page: page_id(5),
        reading: again.clone(),
    };
    changes.extend(written(&mut reads, vec![(phone, edit)]));
    reads.accept_all(&settled.write);
    let carried = reads.settle(phone).unwrap();
    assert_eq!(carried.dropped, 0);
    let view = reads.view();
    assert!(view.page(page_id(5)).is_none());
    assert!(view.early.contains(&again.detail));
    // Once the page is carried over too, the reading belongs to it.
    adds.accept_all(&settled.write);
    let page = adds.settle(second).unwrap();
    reads.accept_all(&page.write);
    let view = reads.view();
    let readings = &view.page(page_id(5)).unwrap().readings;
    assert_eq!(readings.last(), Some(&again));
    assert!(view.early.is_empty());
}

#[test]
fn a_family_carries_over_its_own_pages_out_of_a_founding_that_does_not_hold() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut left, changes) = practice_of_a_term(&people);
    let mut right = people.file();
    right.accept_all(&changes);
    // Of these pages, and that one was measured again, only the second laptop hears.
    let mut home = right.clone();
    let mut other = right.clone();
    let again = ReadingRecord {
        made_at: Moment(1_900_000_000_000),
        ..reading(0x99)
    };
    let theirs = written(
        &mut other,
        vec![(
            &people.second_phone,
            Edit::AddPage(page(PAGE + 7, &people.second_phone)),
        )],
    );
    home.accept_all(&theirs);
    let mut late = written(
        &mut home,
        vec![
            (phone, Edit::AddPage(page(PAGE + 6, phone))),
            (
                phone,
                Edit::AddReading {
                    page: page_id(6),
                    reading: again.clone(),
                },
            ),
        ],
    );
    late.extend(theirs);
    right.accept_all(&late);
    let (low, high) = (FoundingId([1; 8]), FoundingId([2; 8]));
    let holds = left.found_anew(laptop, low, &[], all_held).unwrap();
    let does_not = right.found_anew(second, high, &[], all_held).unwrap();
    home.accept_all(&does_not.write);
    assert!(said(&home.settle(phone).unwrap().write).is_empty());
    home.accept_all(&holds.write);
    home.settle(phone).unwrap();
    // Its own page is shown, though the second laptop may never be seen again.
    let view = home.view();
    assert_eq!(view.page(page_id(6)).unwrap().readings.last(), Some(&again));
    assert!(view.page(page_id(7)).is_none());
    // Carried over by both, it stands once, and is by whoever added it.
    right.accept_all(&holds.write);
    let carried = right.settle(second).unwrap();
    home.accept_all(&carried.write);
    for (at, by) in [(6, phone), (7, &people.second_phone)] {
        let view = home.view();
        let pages: Vec<_> = view
            .pages
            .iter()
            .filter(|it| it.id == page_id(at))
            .collect();
        assert_eq!(pages.len(), 1);
        assert_eq!(pages[0].added_by, by.device());
    }
    assert!(!home.owes_founding());
}

#[test]
fn a_value_written_once_more_as_it_was_is_carried_over_with_its_new_time() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut file, _) = practice_of_a_term(&people);
    let measure = target().measure;
    let drop = |file: &mut CaseFile| file.write(laptop, Edit::DropTarget(measure)).unwrap();
    let first = drop(&mut file);
    let mut other = file.clone();
    other.accept(&first).unwrap();
    let aims = other.write(second, Edit::SetTarget(target())).unwrap();
    file.accept(&aims).unwrap();
    assert_eq!(file.view().targets.len(), 1);
    // Dropped again at the one, while the other founds anew without having heard of that.
    drop(&mut file);
    assert!(file.view().targets.is_empty());
    let settled = other.found_anew(second, ANEW, &[], all_held).unwrap();
    file.accept_all(&settled.write);
    let carried = file.settle(laptop).unwrap();
    other.accept_all(&carried.write);
    assert!(file.view().targets.is_empty() && other.view().targets.is_empty());
}

#[test]
fn whoever_writes_over_what_was_carried_over_wins() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut file, changes) = practice_of_a_term(&people);
    let mut away = people.file();
    away.accept_all(&changes);
    let settled = file.found_anew(laptop, ANEW, &[], all_held).unwrap();
    // The second laptop writes many times, so that its clock is far ahead, and only then hears of it.
    let name = |name: &str| {
        Edit::SetProfile(units::Profile {
            name: name.into(),
            ..profile()
        })
    };
    let names = (0..20).map(|at| (second, name(&format!("Robin {at}"))));
    written(&mut away, names.collect());
    away.accept_all(&settled.write);
    let carried = away.settle(second).unwrap();
    file.accept_all(&carried.write);
    assert_eq!(file.view().profile.unwrap().name, "Robin 19");
    let wren = file.write(laptop, name("Wren")).unwrap();
    away.accept(&wren).unwrap();
    assert_eq!(file.view().profile.unwrap().name, "Wren");
    assert_eq!(away.view().profile.unwrap().name, "Wren");
}
