//! A start finishes what was cut off, and nothing that stands against that locks anybody out. What a newer
//! version has written somewhere stops no forgetting elsewhere.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use app::api::*;
use casefile::BookKind;
use store::Disk;

use crate::inside::{NEWER, look, next_change, practice_id};
use crate::people::{Device, holds};
use crate::waiting::Filling;

fn middle(picture: &[u8]) -> Vec<u8> {
    let at = picture.len() / 2;
    picture[at..at + 64].to_vec()
}

fn unfinished(device: &Device) -> usize {
    let notices = device.notices();
    let unfinished = |notice: &&Notice| matches!(notice, Notice::Unfinished { .. });
    notices.iter().filter(unfinished).count()
}

#[test]
fn a_full_disk_is_no_reason_not_to_start_and_what_is_owed_stays_owed() {
    let disk = Filling::empty();
    let around = || Arc::clone(&disk) as Arc<dyn Disk>;
    let desk = Device::tutor("Study").restarted_on(around());
    let pupil = desk.add_pupil("Wren");
    let page = desk.invent_page(pupil, 1, 2_000);
    let picture = middle(&desk.picture(pupil, page).unwrap());
    disk.copies.store(false, Ordering::SeqCst);
    let full = desk.app.erase_pupil(OfPupil { pupil }).unwrap_err();
    assert_eq!(full.code, "disk-full");
    let mut desk = desk;
    for _ in 0..2 {
        desk = desk.restarted_on(around());
        assert!(desk.pupils().is_empty(), "erased all the same");
    }
    assert_eq!(unfinished(&desk), 1, "told once: {:?}", desk.notices());
    let (desk, owed) = look(desk, |store| store.settings_under("device/sweep").unwrap());
    assert!(!owed.is_empty());
    // Once there is room it is done, by the very start that this look ended with.
    let (desk, owed) = look(desk, |store| store.settings_under("device/sweep").unwrap());
    assert!(owed.is_empty());
    assert!(!holds(&desk.everything(), &picture));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newer_practice_book_is_no_reason_not_to_start() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let page = desk.invent_page(wren, 1, 2_000);
    let picture = middle(&desk.picture(wren, page).unwrap());
    desk.own(&bag).await;
    let bring = bag.id();
    bag.app.close().await;
    desk.app.close().await;
    let (_, newer) = look(bag, |store| {
        let practice = practice_id(store);
        next_change(store, practice, BookKind::Practice, NEWER, vec![1, 2, 3])
    });
    let taken = desk.app.host().accept(bring, vec![newer.encode()]).unwrap();
    assert_eq!(taken.new, 1);
    // The pupil is erased; only that the list names it cannot be written any more.
    let refused = desk.app.erase_pupil(OfPupil { pupil: wren }).unwrap_err();
    assert_eq!(refused.code, "book-newer");
    assert!(!holds(&desk.everything(), &picture));
    let desk = desk.restarted();
    assert_eq!(desk.pupils(), [robin]);
    assert_eq!(unfinished(&desk), 1);
    let desk = desk.restarted();
    assert_eq!(unfinished(&desk), 1, "not told twice in a row");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_newer_version_wrote_about_one_pupil_keeps_no_picture_of_another() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.family(wren, &phone).await;
    let page = desk.invent_page(robin, 1, 2_000);
    let stays = desk.invent_page(wren, 2, 2_000);
    phone.meets().await;
    let picture = middle(&desk.picture(robin, page).unwrap());
    let bring = phone.id();
    phone.app.close().await;
    let (_, newer) = look(phone, |store| {
        next_change(store, wren, BookKind::Home, NEWER, vec![1, 2, 3])
    });
    let taken = desk.app.host().accept(bring, vec![newer.encode()]).unwrap();
    assert_eq!(taken.new, 1);
    desk.app.erase_pupil(OfPupil { pupil: robin }).unwrap();
    assert!(!holds(&desk.everything(), &picture));
    assert!(desk.has_picture(wren, stays) && desk.picture(wren, stays).is_some());
}
