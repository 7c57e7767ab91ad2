//! Whose a picture is, and that the newest reading that is here is never lost.

use app::api::*;
use app::units::Role;
use sync::Wanted;

use crate::inside::hand_over;
use crate::people::{Device, holds, invented, name_of};

fn middle(picture: &[u8]) -> &[u8] {
    let at = picture.len() / 2;
    &picture[at..at + 64]
}

#[tokio::test(flavor = "multi_thread")]
async fn the_name_of_anothers_picture_gives_nobody_that_picture() {
    let (desk, bag, phone) = (
        Device::tutor("Study"),
        Device::tutor("Bag"),
        Device::parent("Kitchen"),
    );
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.family(wren, &phone).await;
    desk.own(&bag).await;
    let page = desk.invent_page(robin, 1, 2_000);
    bag.meets().await;
    let record = desk.record(robin, page);
    let picture = desk.picture(robin, page).unwrap();
    // Whoever has heard of the name writes it in a book of their own.
    let told = phone.app.keep_measured_page(wren, record, Vec::new());
    let told = told.unwrap().page;
    for _ in 0..2 {
        for device in [&phone, &bag, &phone] {
            device.meets().await;
        }
    }
    let laptops = [&desk, &bag];
    for laptop in laptops {
        assert!(laptop.has_picture(robin, page) && !laptop.has_picture(wren, told));
        let files = laptop.files(wren, Some(phone.id()), None);
        for file in &files {
            phone.opens(file).unwrap();
        }
        let mut zip = std::io::Cursor::new(Vec::new());
        laptop.app.export_pupil(wren, &mut zip).unwrap();
        assert!(!holds(zip.get_ref(), middle(&picture)));
        for scope in [wren.0, robin.0] {
            let id = name_of(&picture);
            let host = laptop.app.host();
            let served = host.blob(phone.id(), Wanted { scope, id });
            assert_eq!(served.unwrap(), None);
        }
    }
    assert!(!holds(&phone.everything(), middle(&picture)));
    // Nor does it outlive the pupil whose it is.
    desk.app.erase_pupil(OfPupil { pupil: robin }).unwrap();
    for _ in 0..2 {
        bag.meets().await;
    }
    for laptop in laptops {
        assert!(!holds(&laptop.everything(), middle(&picture)));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_page_kept_for_two_pupils_is_held_for_each() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.own(&bag).await;
    let pages = [wren, robin].map(|pupil| (pupil, desk.invent_page(pupil, 1, 2_000)));
    for _ in 0..2 {
        bag.meets().await;
    }
    for (pupil, page) in pages {
        assert!(desk.has_picture(pupil, page) && bag.has_picture(pupil, page));
    }
    desk.app.erase_pupil(OfPupil { pupil: wren }).unwrap();
    for _ in 0..2 {
        bag.meets().await;
    }
    let (_, page) = pages[1];
    for laptop in [&desk, &bag] {
        assert!(laptop.has_picture(robin, page) && laptop.picture(robin, page).is_some());
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_stands_gets_its_picture_though_the_bringer_is_removed_meanwhile() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let (record, blobs) = invented(1, 2_000);
    let kept = phone.app.keep_measured_page(pupil, record, blobs.clone());
    let page = kept.unwrap().page;
    hand_over(&phone, &desk, |_| true);
    assert!(!desk.has_picture(pupil, page));
    let wanted = desk.app.host().wants(phone.id()).unwrap();
    desk.app
        .remove_device(OfDevice { device: phone.id() })
        .unwrap();
    for wanted in wanted {
        let bytes = blobs.iter().find(|bytes| name_of(bytes) == wanted.id);
        let bytes = bytes.unwrap().clone();
        let host = desk.app.host();
        host.keep_blob(phone.id(), wanted, bytes).unwrap();
    }
    assert!(desk.has_picture(pupil, page));
    // Of a page that was forgotten meanwhile nothing is kept, neither whole nor in part.
    desk.app
        .forget_pages(ForgetPages {
            pupil,
            pages: vec![page],
        })
        .unwrap();
    let host = desk.app.host();
    for bytes in blobs {
        let (scope, id) = (pupil.0, name_of(&bytes));
        let wanted = Wanted { scope, id };
        host.keep_part(phone.id(), wanted, 0, bytes[..10].to_vec())
            .unwrap();
        host.keep_blob(phone.id(), wanted, bytes).unwrap();
        assert_eq!(host.part(phone.id(), wanted).unwrap(), None);
    }
    assert!(!holds(&desk.everything(), b"invented 1"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newer_reading_that_never_came_costs_the_older_one_nothing() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let page = desk.invent_page(pupil, 1, 2_000);
    phone.meets().await;
    let of = OfPage { pupil, page };
    phone.app.measure_again(of).unwrap();
    // The desk hears of the new reading; then the phone is lost with it.
    hand_over(&phone, &desk, |_| true);
    assert_eq!(desk.record(pupil, page).readings.len(), 2);
    let shown = |device: &Device| device.app.page(of).unwrap().reading.is_some();
    assert!(shown(&desk));
    desk.app.shorten_history(OfPupil { pupil }).unwrap();
    desk.app
        .remove_device(OfDevice { device: phone.id() })
        .unwrap();
    assert!(shown(&desk));
    desk.app.measure_again(of).unwrap();
    assert!(shown(&desk));
    // Another laptop, which has neither, fetches what there is.
    desk.app.shorten_history(OfPupil { pupil }).unwrap();
    let bag = Device::tutor("Bag");
    desk.own(&bag).await;
    assert!(shown(&bag));
    let devices = desk.app.devices(Nothing {}).unwrap().devices;
    assert!(devices.iter().any(|row| row.role == Role::Tutor));
}

#[tokio::test(flavor = "multi_thread")]
async fn changes_are_handed_out_a_few_megabytes_at_a_time() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    bag.app.close().await;
    let page = desk.invent_page(pupil, 1, 2_000);
    for number in 100..160 {
        let line = format!("{number} ").repeat(120);
        let text = vec![line.trim().to_owned(); 190];
        desk.app.set_text(SetText { pupil, page, text }).unwrap();
    }
    let host = desk.app.host();
    let of = |(name, count): &(Vec<u8>, u64)| {
        let changes = host.changes(bag.id(), name, 0).unwrap();
        let bytes: usize = changes.iter().map(Vec::len).sum();
        (changes.len() as u64, *count, bytes)
    };
    let handed: Vec<_> = host.have(bag.id()).unwrap().iter().map(of).collect();
    assert!(handed.iter().all(|(_, _, bytes)| *bytes <= 4 << 20));
    assert!(
        handed.iter().any(|(changes, of, _)| changes < of),
        "there was too little to hand out in pieces: {handed:?}"
    );
    bag.app.exchange(Exchange { device: None }).await.unwrap();
    assert_eq!(bag.record(pupil, page).text, desk.record(pupil, page).text);
}
