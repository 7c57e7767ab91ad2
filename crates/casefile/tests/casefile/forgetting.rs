//! What is forgotten: pages, what was replaced or removed, a pupil, and wishes that it be.

use casefile::{
    CaseFile, Edit, PracticeBook, PracticeEdit, Refused, Settled, SignedChange, WriteRefused,
};
use units::{AskedFor, MarkId, PupilId, Role};

use crate::fixtures::*;
use crate::founding::{ANEW, MARK, PAGE, page_id, practice_of_a_term};

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
fn an_erasure_is_told_once_even_where_no_books_have_come() {
    let people = People::new();
    let (mut phone, mut laptop) = (people.file(), people.file());
    let erasure = laptop.erase(&people.laptop).unwrap();
    phone.accept(&erasure).unwrap();
    let told = Settled {
        erased: true,
        ..Settled::default()
    };
    for (file, signer) in [(&mut laptop, &people.laptop), (&mut phone, &people.phone)] {
        assert_eq!(file.settle(signer).unwrap(), told);
        assert!(file.settle(signer).unwrap().is_nothing());
    }
    // Nor is it told again after a restart.
    let mut log = people.log();
    log.push(erasure);
    let mut again = CaseFile::of_kept(phone.pupil(), log);
    assert!(again.standing().erased);
    assert!(again.settle(&people.phone).unwrap().is_nothing());
}

#[test]
fn an_erasure_that_a_removal_undid_is_told_again_when_it_is_done_again() {
    let people = People::new();
    let (laptop, stolen, phone) = (&people.laptop, &people.second_laptop, &people.phone);
    let (mut desk, mut file) = (people.file(), people.file());
    let removal = desk.remove(laptop, stolen.device()).unwrap();
    file.accept(&people.file().erase(stolen).unwrap()).unwrap();
    assert!(file.settle(phone).unwrap().erased);
    file.accept(&removal).unwrap();
    assert!(!file.standing().erased && file.settle(phone).unwrap().is_nothing());
    file.accept(&desk.erase(laptop).unwrap()).unwrap();
    assert!(file.settle(phone).unwrap().erased);
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
