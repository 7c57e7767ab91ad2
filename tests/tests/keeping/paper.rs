//! The key on paper: it comes to be everywhere or nowhere, and whoever came back by it is not left with
//! another.

use app::api::*;
use app::units::{DeviceId, Problem, PupilId};
use casefile::DocId;

use crate::inside::{changes, hand_over, look};
use crate::people::{Device, soon};

fn made(device: &Device, before: Option<&str>) -> Result<String, Problem> {
    let before = before.map(str::to_owned);
    let key = device.app.make_paper_key(MakePaperKey { before })?;
    Ok(key.text)
}

async fn comes_back(device: &Device, by: &Device, pupil: PupilId, key: &str) {
    let offer = OfferPairing::TutorAgain { pupil };
    let key = Some(key.to_owned());
    pothook_tests::pair_for(&by.app, offer, &device.app, key).await;
    device.meets().await;
    soon("the pupil is back", || device.pupils().contains(&pupil)).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_key_that_some_pupil_refuses_is_named_nowhere() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    // Two keys at the same time, and a pupil who knows the one alone.
    let one = made(&desk, None).unwrap();
    let robin = bag.add_pupil("Robin");
    let two = made(&bag, None).unwrap();
    for _ in 0..3 {
        hand_over(&bag, &desk, |_| true);
        hand_over(&desk, &bag, |_| true);
    }
    assert!(desk.pupils().contains(&robin));
    let have = || desk.app.host().have(bag.id()).unwrap();
    let before = have();
    let refused = made(&desk, Some(&one)).unwrap_err();
    assert_eq!(refused.code, "paper-key-there");
    assert_eq!(have(), before, "nothing is named");
    // The one that all of them hold to is replaced everywhere.
    let three = made(&desk, Some(&two)).unwrap();
    assert_eq!(made(&desk, Some(&two)).unwrap_err().code, "paper-key-there");
    made(&desk, Some(&three)).unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn who_came_back_by_a_key_needs_it_for_the_next() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    let first = made(&desk, None).unwrap();
    desk.family(pupil, &phone).await;
    desk.app.close().await;
    drop(desk);
    let new = Device::tutor("New laptop");
    comes_back(&new, &phone, pupil, &first).await;
    let overview = new.app.overview(Nothing {}).unwrap();
    assert_eq!(overview.paper_key, Some(true));
    assert_eq!(made(&new, None).unwrap_err().code, "paper-key-there");
    let second = made(&new, Some(&first)).unwrap();
    new.meets().await;
    new.app.close().await;
    drop(new);
    // And the new key does bring the tutor back.
    let third = Device::tutor("Third laptop");
    comes_back(&third, &phone, pupil, &second).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn who_came_back_to_one_pupil_has_one_key_for_all() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    let old = made(&desk, None).unwrap();
    desk.family(pupil, &phone).await;
    desk.app.close().await;
    drop(desk);
    // The new laptop has pupils, and a key, of its own already.
    let new = Device::tutor("New laptop");
    new.add_pupil("Robin");
    let own = made(&new, None).unwrap();
    comes_back(&new, &phone, pupil, &old).await;
    assert_eq!(made(&new, Some(&old)).unwrap_err().code, "paper-key-there");
    made(&new, Some(&own)).unwrap();
}

/// A laptop whose thief has removed the other; the other, and what the thief's wrote in the logs.
async fn robbed(desk: &Device, pupil: PupilId) -> (DeviceId, Vec<Vec<u8>>, Vec<Vec<u8>>) {
    let stolen = Device::tutor("Stolen");
    desk.own(&stolen).await;
    stolen.app.close().await;
    let (thief, device) = (stolen.id(), desk.id());
    stolen.app.remove_device(OfDevice { device }).unwrap();
    let (_, logs) = look(stolen, |store| {
        let log = |of: bool| move |doc: &DocId| doc.is_log() && (doc.pupil == pupil) == of;
        (changes(store, log(false)), changes(store, log(true)))
    });
    (thief, logs.0, logs.1)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_out_of_the_practice_still_removes_the_thief_from_the_pupils() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let (device, practices, _) = robbed(&desk, pupil).await;
    // Of all that the thief did the practice's log comes first.
    let taken = desk.app.host().accept(device, practices).unwrap();
    assert!(taken.new >= 1, "{taken:?}");
    let refused = desk.app.remove_device(OfDevice { device }).unwrap_err();
    assert_eq!(refused.code, "removed-in-part");
    let devices = desk.app.devices(Nothing {}).unwrap().devices;
    let row = devices.iter().find(|row| row.device == device);
    assert!(row.is_none_or(|row| row.pupils.is_empty()), "{row:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_that_was_removed_comes_back_by_the_key_on_paper() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let paper_key = made(&desk, None).unwrap();
    let (device, practices, pupils) = robbed(&desk, pupil).await;
    let back = |paper_key: &str| {
        let paper_key = paper_key.to_owned();
        desk.app.return_by_paper(ReturnByPaper { paper_key })
    };
    // It was removed from nothing, as far as it knows.
    assert_eq!(back(&paper_key).unwrap_err().code, "paper-key-elsewhere");
    for changes in [practices, pupils] {
        desk.app.host().accept(device, changes).unwrap();
    }
    let note = || SetNote {
        pupil,
        note: "back again".to_owned(),
    };
    assert_eq!(desk.app.set_note(note()).unwrap_err().code, "not-written");
    let other = made(&Device::tutor("Other"), None).unwrap();
    assert_eq!(back(&other).unwrap_err().code, "paper-key-elsewhere");
    back(&paper_key).unwrap();
    desk.app.set_note(note()).unwrap();
    desk.invent_page(pupil, 1, 2_000);
    desk.app.remove_device(OfDevice { device }).unwrap();
    assert!(!desk.app.host().knows(device));
}
