//! Founding the books anew, erasing, and devices that were away meanwhile.

use casefile::{
    BookKind, CaseFile, Edit, FoundingId, PracticeBook, PracticeEdit, Refused, Settled,
    SignedChange, WriteRefused,
};
use units::{AskedFor, Day, MarkId, Moment, PageId, PupilId, ReadingRecord, Role};

use crate::fixtures::*;

pub const ANEW: FoundingId = FoundingId([0xA1; 8]);
/// Ids of pages and marks that are no other record's.
pub const PAGE: u8 = 0xC0;
const MARK: u8 = 0xD0;

pub fn page_id(at: u8) -> PageId {
    PageId([PAGE + at; 16])
}

pub fn text(page: PageId, words: &str) -> Edit {
    let text = Some(vec![words.to_owned()]);
    Edit::SetText { page, text }
}

/// Three pages by the phone, a mark of each laptop on each, a reply, everything that belongs to them.
pub fn practice_of_a_term(people: &People) -> (CaseFile, Vec<SignedChange>) {
    let mut file = people.file();
    let mut changes = people.log();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut edits = vec![
        (laptop, Edit::SetProfile(profile())),
        (laptop, Edit::SetTask(task(1))),
        (laptop, Edit::StartFocus(focus(7))),
        (laptop, Edit::SetDeleteBy(Some(Day(21_000)))),
        (laptop, Edit::SetTarget(target())),
        (phone, Edit::AddPractised(practised(0xE0))),
        (phone, Edit::AddSetUp(setup(0xE1))),
    ];
    for at in 0..3 {
        edits.push((phone, Edit::AddPage(page(PAGE + at, phone))));
        edits.push((laptop, Edit::AddMark(mark(MARK + at, PAGE + at, laptop))));
        let second = &people.second_laptop;
        edits.push((second, Edit::Amend(amendment(0xB0 + at, PAGE + at, second))));
        let answer = units::Reply {
            mark: Some(MarkId([MARK + at; 16])),
            ..reply(at, PAGE + at, phone)
        };
        edits.push((phone, Edit::AddReply(answer)));
    }
    changes.extend(written(&mut file, edits));
    (file, changes)
}

fn keep(changes: &mut Vec<SignedChange>, settled: &Settled) {
    changes.retain(|change| !settled.forget.contains(&change.doc));
    changes.extend(settled.write.iter().cloned());
}

/// Whether these bytes occur anywhere in the changes.
fn found_in(changes: &[SignedChange], bytes: &[u8]) -> bool {
    let mut all = changes.iter();
    all.any(|change| change.bytes.windows(bytes.len()).any(|part| part == bytes))
}

#[test]
fn founded_anew_the_books_say_the_same_but_for_what_is_forgotten() {
    let people = People::new();
    let (mut file, mut changes) = practice_of_a_term(&people);
    let before = file.view();
    let settled = file
        .found_anew(&people.laptop, ANEW, &[page_id(1).0], all_held)
        .unwrap();
    keep(&mut changes, &settled);
    let mut wanted = before.clone();
    wanted.pages.retain(|page| page.id != page_id(1));
    wanted.marks.retain(|mark| mark.page != page_id(1));
    wanted.amendments.retain(|it| it.page != page_id(1));
    wanted.replies.retain(|reply| reply.page != page_id(1));
    assert_eq!(file.view(), wanted);
    assert_eq!(wanted.pages.len(), 2);
    // Whoever opens it from what is kept sees the same, and only the id is left of it.
    let again = CaseFile::of_kept(file.pupil(), changes.clone());
    assert_eq!((again.view(), again.have()), (wanted.clone(), file.have()));
    let books: Vec<SignedChange> = changes
        .iter()
        .filter(|it| !it.doc.is_log())
        .cloned()
        .collect();
    let picture = page(PAGE + 1, &people.phone).picture.0;
    for gone in [&picture[..], &page_id(1).0, &[MARK + 1; 16]] {
        assert!(!found_in(&books, gone));
    }
    assert!(found_in(&changes, &page_id(1).0), "the log names the id");
    assert!(!found_in(&changes, &picture));
}

#[test]
fn what_was_replaced_or_removed_is_left_behind() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let (mut file, _) = practice_of_a_term(&people);
    let edits = vec![
        (laptop, Edit::RemoveMark(MarkId([MARK; 16]))),
        (
            laptop,
            Edit::SetProfile(units::Profile {
                name: "Robin".into(),
                ..profile()
            }),
        ),
        (
            phone,
            Edit::AddReading {
                page: page_id(0),
                reading: reading(0x99),
            },
        ),
        (phone, Edit::TakePageOut(page_id(2))),
    ];
    let mut kept = written(&mut file, edits);
    let before = file.view();
    assert_eq!(before.pages.len(), 2);
    let settled = file.found_anew(laptop, ANEW, &[], all_held).unwrap();
    keep(&mut kept, &settled);
    let mut wanted = before.clone();
    for page in &mut wanted.pages {
        page.readings.drain(..page.readings.len() - 1);
    }
    wanted.marks.retain(|mark| mark.page != page_id(2));
    wanted.amendments.retain(|it| it.page != page_id(2));
    wanted.replies.retain(|it| it.page != page_id(2));
    assert_eq!(file.view(), wanted);
    // The name before, and the page that was taken out, are nowhere any more.
    assert!(found_in(&kept, b"Robin") && !found_in(&kept, b"Wren"));
    assert!(!found_in(&kept, &page(PAGE + 2, phone).picture.0));
}

#[test]
fn a_device_follows_once_the_whole_seed_is_here_and_not_before() {
    let people = People::new();
    let (mut file, changes) = practice_of_a_term(&people);
    let mut phone = people.file();
    phone.accept_all(&changes);
    let mut old = phone.view();
    let settled = file
        .found_anew(&people.laptop, ANEW, &[page_id(0).0], all_held)
        .unwrap();
    let (entry, seed) = settled.write.split_first().unwrap();
    assert!(entry.doc.is_log() && !seed.is_empty());
    // The log alone: what is forgotten is shown no longer, everything else still is.
    phone.accept(entry).unwrap();
    assert!(phone.settle(&people.phone).unwrap().is_nothing());
    old.pages.retain(|page| page.id != page_id(0));
    old.marks.retain(|mark| mark.page != page_id(0));
    old.amendments.retain(|it| it.page != page_id(0));
    old.replies.retain(|it| it.page != page_id(0));
    assert_eq!(phone.view(), old);
    // And opened again in between, too.
    let mut kept = changes.clone();
    kept.push(entry.clone());
    let mut phone = CaseFile::of_kept(phone.pupil(), kept);
    assert_eq!(phone.view(), old);
    for change in seed {
        phone.accept(change).unwrap();
    }
    let followed = phone.settle(&people.phone).unwrap();
    // It keeps the fingerprints of what it wrote, and says nothing anew.
    assert_eq!(followed.write.len(), 1);
    assert!(said(&followed.write).is_empty() && followed.dropped == 0);
    assert_eq!(phone.view(), file.view());
    file.accept_all(&followed.write);
    assert_eq!(phone.have(), file.have());
    assert!(!followed.forget.is_empty());
    // Old changes are old news now.
    assert_eq!(phone.accept(&changes[6]), Err(Refused::Forgotten));
}

#[test]
fn a_false_seed_is_not_taken() {
    let people = People::new();
    let (mut file, changes) = practice_of_a_term(&people);
    let mut phone = people.file();
    phone.accept_all(&changes);
    let settled = file
        .found_anew(&people.laptop, ANEW, &[], all_held)
        .unwrap();
    phone.accept(&settled.write[0]).unwrap();
    // The founder signs another seed under the same number.
    let mut other = people.file();
    other.accept_all(&changes);
    let another = other
        .found_anew(&people.laptop, ANEW, &[page_id(0).0], all_held)
        .unwrap();
    let last = another.write.last().unwrap();
    assert_eq!(last.seq, settled.write.last().unwrap().seq);
    assert_eq!(phone.accept(last), Err(Refused::Forked { seq: last.seq }));
    let good = settled.write.last().unwrap();
    phone.accept(good).unwrap();
    phone.settle(&people.phone).unwrap();
    assert_eq!(phone.view(), file.view());
}

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
fn two_foundings_at_once_end_in_one_and_lose_nothing() {
    let people = People::new();
    let (laptop, second, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut left, changes) = practice_of_a_term(&people);
    let mut right = people.file();
    right.accept_all(&changes);
    let mut third = right.clone();
    let (low, high) = (FoundingId([1; 8]), FoundingId([2; 8]));
    let mut all = left
        .found_anew(laptop, low, &[page_id(0).0], all_held)
        .unwrap()
        .write;
    let mut from_right = vec![
        right
            .write(second, Edit::AddMark(mark(0xDD, PAGE + 2, second)))
            .unwrap(),
    ];
    from_right.extend(
        right
            .found_anew(second, high, &[page_id(1).0], all_held)
            .unwrap()
            .write,
    );
    from_right.push(
        right
            .write(second, Edit::AddMark(mark(0xDE, PAGE + 2, second)))
            .unwrap(),
    );
    // The phone follows the one that will not hold, and writes there.
    third.accept_all(&from_right);
    third.settle(phone).unwrap();
    from_right.push(
        third
            .write(phone, Edit::AddPage(page(PAGE + 6, phone)))
            .unwrap(),
    );
    all.extend(from_right);
    let mut files = [(left, laptop), (right, second), (third, phone)];
    for round in 0..5 {
        for (file, signer) in &mut files {
            file.accept_all(&all);
            all.extend(file.settle(signer).unwrap().write);
        }
        let (file, _) = &mut files[0];
        if file.owes_founding() {
            // What the other founding forgot is shown no longer, and goes for good with the next.
            assert_eq!(file.standing().founding_id(), low);
            assert!(file.view().page(page_id(1)).is_none());
            let again = FoundingId([0x10 + round; 8]);
            all.extend(file.found_anew(laptop, again, &[], all_held).unwrap().write);
        }
    }
    let view = files[0].0.view();
    for (file, _) in &files {
        assert!(!file.owes_founding());
        assert_eq!(file.have(), files[0].0.have());
        assert_eq!(file.view(), view);
    }
    // Both forgettings hold, both late marks and the page are there.
    let pages: Vec<PageId> = view.pages.iter().map(|page| page.id).collect();
    assert_eq!(pages.len(), 2);
    assert!(pages.contains(&page_id(2)) && pages.contains(&page_id(6)));
    assert_eq!(view.marks.len(), 3);
    assert!(view.marks.iter().any(|mark| mark.by == second.device()));
}

#[test]
fn a_founding_by_a_device_that_is_removed_meanwhile_does_not_hold() {
    let people = People::new();
    let (laptop, thief, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut file, changes) = practice_of_a_term(&people);
    let before = file.view();
    let mut stolen = people.file();
    stolen.accept_all(&changes);
    let ids: Vec<[u8; 16]> = (0..3).map(|at| page_id(at).0).collect();
    let emptied = stolen.found_anew(thief, ANEW, &ids, all_held).unwrap();
    // The phone hears of it first and follows, then of the removal.
    let mut parents = people.file();
    parents.accept_all(&changes);
    parents.accept_all(&emptied.write);
    parents.settle(phone).unwrap();
    assert!(parents.view().pages.is_empty());
    let late = parents
        .write(phone, Edit::AddPage(page(PAGE + 7, phone)))
        .unwrap();
    let removal = file.remove(laptop, thief.device()).unwrap();
    file.accept(&emptied.write[0]).unwrap();
    assert_eq!(file.view(), before);
    parents.accept(&removal).unwrap();
    // The phone cannot go back to documents that it has let go of; it waits, and loses nothing.
    assert!(parents.settle(phone).unwrap().write.is_empty());
    assert!(parents.view().page(page_id(7)).is_some());
    assert_eq!(file.accept(&late), Err(Refused::Forgotten));
    assert!(file.owes_founding());
    let again = file
        .found_anew(laptop, FoundingId([3; 8]), &[], all_held)
        .unwrap();
    parents.accept_all(&again.write);
    let back = parents.settle(phone).unwrap();
    file.accept_all(&back.write);
    assert!(!file.owes_founding());
    assert_eq!(parents.view(), file.view());
    assert_eq!(file.view().pages.len(), before.pages.len() + 1);
}

#[test]
fn erased_means_nothing_left_but_the_log_on_every_device() {
    let people = People::new();
    let (mut file, mut changes) = practice_of_a_term(&people);
    let mut away = people.file();
    away.accept_all(&changes);
    let late = away
        .write(&people.phone, Edit::AddPage(page(PAGE + 5, &people.phone)))
        .unwrap();
    let erasure = file.erase(&people.laptop).unwrap();
    let settled = file.settle(&people.laptop).unwrap();
    assert!(settled.erased);
    keep(&mut changes, &settled);
    changes.push(erasure.clone());
    assert!(changes.iter().all(|change| change.doc.is_log()));
    assert!(!found_in(&changes, b"Wren") && books(&file).is_empty());
    assert_eq!(file.accept(&late), Err(Refused::Forgotten));
    let refused = file.write(&people.laptop, Edit::SetTask(task(1)));
    assert_eq!(refused, Err(WriteRefused::Missing("pupil")));
    let refused = file.found_anew(&people.laptop, ANEW, &[], all_held);
    assert_eq!(refused, Err(WriteRefused::Missing("pupil")));
    assert!(books(&file).is_empty());
    // The phone that was away follows, and so does one that comes back from an old copy.
    away.accept(&erasure).unwrap();
    assert!(away.settle(&people.phone).unwrap().erased);
    assert!(books(&away).is_empty());
    assert!(away.settle(&people.phone).unwrap().is_nothing());
    // A parent's device cannot do it.
    let refused = people.file().erase(&people.phone);
    assert_eq!(refused, Err(WriteRefused::NotAMember));
}

#[test]
fn a_wish_to_forget_stands_until_it_is_put_aside_or_done() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let (mut file, _) = practice_of_a_term(&people);
    let of_page = units::Ask {
        wish: AskedFor::Page { page: page_id(1) },
        ..ask(1, phone)
    };
    let all = units::Ask {
        wish: AskedFor::Everything,
        ..ask(2, phone)
    };
    for wish in [&of_page, &all] {
        file.write(phone, Edit::AskToForget(wish.clone())).unwrap();
    }
    assert_eq!(file.view().asks, [of_page, all.clone()]);
    let refused = file.clone().write(phone, Edit::PutAskAside(all.id));
    assert_eq!(refused, Err(WriteRefused::TutorOnly));
    file.write(laptop, Edit::PutAskAside(all.id)).unwrap();
    file.found_anew(laptop, ANEW, &[page_id(1).0], all_held)
        .unwrap();
    assert!(file.view().asks.is_empty());
}

#[test]
fn only_the_tutor_founds_and_only_what_it_understands() {
    let people = People::new();
    let (mut file, _) = practice_of_a_term(&people);
    let refused = file.found_anew(&people.phone, ANEW, &[], all_held);
    assert_eq!(refused, Err(WriteRefused::TutorOnly));
    let id = doc(BookKind::Tutor, &people.second_laptop);
    let seq = file.have()[&id] + 1;
    let mut newer = sign(2, id, seq, vec![1, 2, 3]);
    newer.format = 2;
    let refused = file.accept(&newer);
    assert_eq!(refused, Err(Refused::BadSignature), "the format is signed");
}

#[test]
fn the_practice_book_forgets_a_pupil() {
    let people = People::new();
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let (mut book, first) = PracticeBook::begin(laptop, [1; 16], None);
    let mut changes = vec![first, book.admit(laptop, second.device()).unwrap()];
    let [stays, goes] = [0x71, 0x72].map(|id| PupilId([id; 16]));
    let edits = [
        PracticeEdit::AddPupil(stays),
        PracticeEdit::AddPupil(goes),
        PracticeEdit::SetNote {
            pupil: goes,
            note: "tires after ten minutes".into(),
        },
        PracticeEdit::SetNote {
            pupil: stays,
            note: "likes ships".into(),
        },
    ];
    for edit in edits {
        changes.push(book.write(laptop, edit).unwrap());
    }
    let mut away = PracticeBook::new(book.id());
    away.accept_all(&changes);
    away.write(
        second,
        PracticeEdit::SetNote {
            pupil: goes,
            note: "tires less".into(),
        },
    )
    .unwrap();
    changes.push(book.write(laptop, PracticeEdit::RemovePupil(goes)).unwrap());
    let settled = book.found_anew(laptop, ANEW, &[goes]).unwrap();
    keep(&mut changes, &settled);
    assert_eq!(book.view().pupils, [stays]);
    assert!(!found_in(&changes, b"tires"));
    away.accept_all(&settled.write);
    let followed = away.settle(second).unwrap();
    assert_eq!(followed.dropped, 1);
    assert!(!found_in(&followed.write, b"tires"));
    book.accept_all(&followed.write);
    assert_eq!(away.view(), book.view());
    assert_eq!(away.standing().role(second.device()), Some(Role::Tutor));
}

/// The size of a history that much was rewritten in.
#[test]
fn founding_anew_shortens_a_heavy_history() {
    let people = People::new();
    let (mut file, _) = practice_of_a_term(&people);
    for round in 0..200_u8 {
        let again = text(page_id(1), &format!("text {round}"));
        file.write(&people.phone, again).unwrap();
    }
    let before = file.bytes();
    let view = file.view();
    file.found_anew(&people.laptop, ANEW, &[], all_held)
        .unwrap();
    assert_eq!(file.view(), view);
    assert!(file.bytes() * 4 < before, "{} of {before}", file.bytes());
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
