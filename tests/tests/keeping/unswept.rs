//! A disk that cannot be cleaned just now: what came is kept, the meeting goes on, and all that was to go
//! goes later.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use app::api::*;
use store::Disk;

use crate::inside::{Spoilt, look};
use crate::people::{Device, holds, name_of};
use crate::waiting::Filling;

#[tokio::test(flavor = "multi_thread")]
async fn a_disk_without_room_for_cleaning_ends_no_meeting() {
    let disk = Filling::empty();
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    let goes = desk.invent_page(pupil, 1, 2_000);
    let picture = desk.picture(pupil, goes).unwrap();
    let middle = picture.len() / 2;
    let gone = &picture[middle..middle + 64];
    desk.own(&bag).await;
    bag.app.close().await;
    let bag = bag.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
    assert!(bag.has_picture(pupil, goes));
    let pages = vec![goes];
    desk.app.forget_pages(ForgetPages { pupil, pages }).unwrap();
    let stays = desk.invent_page(pupil, 2, 2_000);
    disk.copies.store(false, Ordering::SeqCst);
    for _ in 0..2 {
        let met = bag.meets().await;
        assert!(
            met.iter().all(|meeting| meeting.problem.is_none()),
            "{met:?}"
        );
    }
    assert_eq!(bag.pages(pupil), [stays]);
    assert!(bag.has_picture(pupil, stays));
    let told = bag.notices();
    assert!(
        matches!(&told[..], [Notice::Unfinished { problem }] if problem.code == "disk-full"),
        "told once: {told:?}"
    );
    bag.app.close().await;
    let (bag, owed) = look(bag, |store| store.settings_under("device/sweep").unwrap());
    assert!(!owed.is_empty());
    // Once there is room it is done, by the very start that this look ended with.
    let (bag, owed) = look(bag, |store| store.settings_under("device/sweep").unwrap());
    assert!(owed.is_empty());
    assert!(!holds(&bag.everything(), gone));
}

#[tokio::test(flavor = "multi_thread")]
async fn an_erasure_that_is_cut_short_leaves_no_name_of_a_device() {
    let disk = Filling::empty();
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Zebedee's phone"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    desk.app.close().await;
    phone.app.close().await;
    let desk = desk.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
    assert!(holds(&desk.everything(), b"Zebedee"));
    // The erasure is the one thing that is still written before the power goes.
    disk.commits.store(1, Ordering::SeqCst);
    desk.app.erase_pupil(OfPupil { pupil }).unwrap_err();
    let desk = desk.restarted();
    assert!(desk.pupils().is_empty());
    assert!(!holds(&desk.everything(), b"Zebedee"));
}

#[test]
fn a_pupil_who_cannot_be_read_keeps_nothing_of_another_on_the_disk() {
    let desk = Device::tutor("Study");
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let wrens = desk.invent_page(wren, 1, 2_000);
    let goes = desk.invent_page(robin, 2, 2_000);
    let picture = desk.picture(robin, goes).unwrap();
    // Of a picture that is coming nobody can say yet whose it is.
    let part = name_of(b"a picture on its way");
    let (desk, spoilt) = look(desk, |store| {
        store.keep_part(part, 0, b"a picture").unwrap();
        Spoilt::of(store, wren)
    });
    let key = format!("remark/{robin}/{goes}");
    let text = "Zebedee's hand".to_owned();
    desk.app.keep_draft(KeepDraft { key, text }).unwrap();
    let pages = vec![goes];
    let forget = ForgetPages {
        pupil: robin,
        pages,
    };
    let told = desk.app.forget_pages(forget).unwrap_err();
    assert_eq!(told.code, "data-damaged");
    let (desk, (blobs, parts)) = look(desk, |store| {
        (store.blobs().unwrap(), store.parts().unwrap())
    });
    assert!(!blobs.contains(&name_of(&picture)));
    assert_eq!(parts, [part]);
    let middle = picture.len() / 2;
    assert!(!holds(&desk.everything(), &picture[middle..middle + 64]));
    // Once all can be read the rest goes too.
    let (desk, ()) = look(desk, |store| spoilt.mend(store));
    assert!(desk.has_picture(wren, wrens));
    let (desk, (parts, owed)) = look(desk, |store| {
        let owed = store.settings_under("device/sweep").unwrap();
        (store.parts().unwrap(), owed)
    });
    assert!(parts.is_empty() && owed.is_empty());
    assert!(!holds(&desk.everything(), b"Zebedee"));
}
