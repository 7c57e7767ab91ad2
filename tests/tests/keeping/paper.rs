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
    let (desk, stolen, phone) = (
        Device::tutor("Study"),
        Device::tutor("Stolen"),
        Device::parent("Kitchen"),
    );
    let pupil = desk.add_pupil("Wren");
    let paper_key = made(&desk, None).unwrap();
    desk.family(pupil, &phone).await;
    desk.own(&stolen).await;
    phone.meets().await;
    // The thief removes the tutor's laptop, and the family's phone hears of it.
    let (thief, device) = (stolen.id(), desk.id());
    stolen.app.remove_device(OfDevice { device }).unwrap();
    stolen.app.close().await;
    let (_, logs) = look(stolen, |store| {
        changes(store, |doc| doc.is_log() && doc.pupil == pupil)
    });
    phone.app.host().accept(thief, logs).unwrap();
    assert!(!phone.app.host().knows(device));
    let met = desk.app.exchange(Exchange {
        device: Some(phone.id()),
    });
    let told = met.await.unwrap().meetings.remove(0).problem;
    assert_eq!(told.unwrap().code, "not-paired");
    // Only the right key opens the way back.
    let back = async |paper_key: &str| {
        let paper_key = paper_key.to_owned();
        desk.app.return_by_paper(ReturnByPaper { paper_key }).await
    };
    let other = made(&Device::tutor("Other"), None).unwrap();
    assert_eq!(back(&other).await.unwrap_err().code, "paper-key-elsewhere");
    let met = back(&paper_key).await.unwrap().meetings;
    let met = met.iter().find(|met| met.device == phone.id()).unwrap();
    assert_eq!(met.problem, None);
    assert!(phone.app.host().knows(device));
    // The key itself is no device, and was shown no name.
    let devices = phone.app.devices(Nothing {}).unwrap().devices;
    assert_eq!(devices.len(), 2, "{devices:?}");
    // Now it is the tutor who removes the thief.
    let page = desk.invent_page(pupil, 1, 2_000);
    let removal = OfDevice { device: thief };
    desk.app.remove_device(removal).unwrap();
    desk.meets().await;
    assert!(phone.has_picture(pupil, page));
    assert!(!phone.app.host().knows(thief));
}
