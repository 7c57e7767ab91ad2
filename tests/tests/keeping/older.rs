//! A folder of an earlier version, which says of no picture whose it is: nothing of it is lost, whatever
//! stands against saying so at the first start.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use app::api::*;
use app::units::{PageId, PupilId};
use casefile::BookKind;
use store::{Disk, Store};

use crate::inside::{NEWER, Spoilt, look, next_change};
use crate::people::{Device, holds, name_of, open};
use crate::waiting::Filling;

/// Makes a folder one of an earlier version.
fn make_older(store: &Store) {
    for name in store.settings_under("blob").unwrap() {
        store.remove_setting(&name).unwrap();
    }
}

/// The same device from a folder of an earlier version, whose disk has no room at the first start and has
/// some later.
fn older_on_a_full_disk(device: Device) -> Device {
    let Device { app, folder } = device;
    drop(app);
    make_older(&crate::inside::store(folder.path()));
    let disk = Filling::empty();
    disk.commits.store(0, Ordering::SeqCst);
    let app = open(folder.path(), &(Arc::clone(&disk) as Arc<dyn Disk>)).unwrap();
    disk.commits.store(usize::MAX, Ordering::SeqCst);
    Device { app, folder }
}

fn with_pages() -> (Device, [(PupilId, PageId); 3]) {
    let desk = Device::tutor("Study");
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let pages = [(wren, 1), (robin, 2), (robin, 3)];
    let pages = pages.map(|(pupil, number)| (pupil, desk.invent_page(pupil, number, 2_000)));
    (desk, pages)
}

#[test]
fn what_is_forgotten_before_it_was_said_whose_they_are_takes_no_other_picture_along() {
    let (desk, [wrens, goes, stays]) = with_pages();
    let desk = older_on_a_full_disk(desk);
    let (pupil, pages) = (goes.0, vec![goes.1]);
    let forget = ForgetPages { pupil, pages };
    desk.app.forget_pages(forget).unwrap();
    for (pupil, page) in [wrens, stays] {
        assert!(desk.has_picture(pupil, page));
    }
}

#[test]
fn a_page_that_is_kept_first_keeps_no_older_one_from_being_assigned() {
    let (desk, pages) = with_pages();
    let desk = older_on_a_full_disk(desk);
    let (pupil, _) = pages[0];
    desk.invent_page(pupil, 9, 2_000);
    let desk = desk.restarted();
    for (pupil, page) in pages {
        assert!(desk.has_picture(pupil, page));
    }
}

#[test]
fn one_pupil_who_cannot_be_read_costs_nobody_a_picture() {
    let (desk, [wrens, goes, stays]) = with_pages();
    let picture = desk.picture(goes.0, goes.1).unwrap();
    let (desk, spoilt) = look(desk, |store| {
        make_older(store);
        Spoilt::of(store, wrens.0)
    });
    let has = |desk: &Device, (pupil, page)| desk.has_picture(pupil, page);
    assert!(
        has(&desk, goes) && has(&desk, stays),
        "those of the other pupil"
    );
    let (pupil, pages) = (goes.0, vec![goes.1]);
    let forget = ForgetPages { pupil, pages };
    let told = desk.app.forget_pages(forget).unwrap_err();
    assert_eq!(told.code, "data-damaged");
    assert!(has(&desk, stays));
    // Once it can be read all is as it should be, and what was owed is done.
    let (desk, ()) = look(desk, |store| spoilt.mend(store));
    assert!(has(&desk, wrens) && has(&desk, stays));
    let middle = picture.len() / 2;
    assert!(!holds(&desk.everything(), &picture[middle..middle + 64]));
}

#[test]
fn what_a_newer_version_names_is_assigned_too() {
    let (desk, [(wren, _), (robin, _), _]) = with_pages();
    let picture = b"a picture of a kind that is yet to come".to_vec();
    let (desk, ()) = look(desk, |store| {
        make_older(store);
        let name = name_of(&picture).0.to_vec();
        let newer = next_change(store, wren, BookKind::Tutor, NEWER, name);
        let doc = newer.doc.encode();
        store.append(&doc, newer.seq, &newer.encode()).unwrap();
        store.put_blob(&picture).unwrap();
    });
    desk.app.erase_pupil(OfPupil { pupil: robin }).unwrap();
    let (_, blobs) = look(desk, |store| store.blobs().unwrap());
    assert!(blobs.contains(&name_of(&picture)));
}
