//! Founding the books anew: the seed, who follows it, and foundings that do not hold.

use casefile::{BookKind, CaseFile, Edit, FoundingId, Refused, SignedChange, WriteRefused};
use units::{Day, MarkId, PageId};

use crate::fixtures::*;

pub const ANEW: FoundingId = FoundingId([0xA1; 8]);
/// Ids of pages and marks that are no other record's.
pub const PAGE: u8 = 0xC0;
pub const MARK: u8 = 0xD0;

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
