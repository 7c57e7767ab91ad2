//! What is left of what was let go: nothing, and what people are told.

use app::api::*;
use app::units::{PageId, PupilId};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::{BookKind, DocId};

use crate::inside::{changes, hand_over, look, store};
use crate::people::{Device, holds};

fn words(pupil: PupilId, page: PageId, words: &str) -> AddReply {
    AddReply {
        pupil,
        page,
        mark: None,
        words: words.to_owned(),
    }
}

/// Words as they are, and as they stand in base64 wherever they begin.
fn forms(words: &[u8]) -> Vec<Vec<u8>> {
    let mut forms = vec![words.to_vec()];
    for words in [words, &words[1..], &words[2..]] {
        let whole = words.len() / 3 * 3;
        forms.push(BASE64_STANDARD.encode(&words[..whole]).into_bytes());
    }
    forms
}

/// The settings of a store that are about a pupil.
fn about(pupil: PupilId, names: &[String]) -> Vec<&String> {
    let id = pupil.to_string();
    names.iter().filter(|name| name.contains(&id)).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_of_a_refused_change_outlasts_what_it_was_about() {
    let (desk, phone, other) = (
        Device::tutor("Study"),
        Device::parent("Kitchen"),
        Device::parent("Landing"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    desk.family(pupil, &other).await;
    let page = phone.invent_page(pupil, 1, 2_000);
    phone.meets().await;
    let device = phone.id();
    desk.app.remove_device(OfDevice { device }).unwrap();
    let said = words(pupil, page, "a sentence of the child's own");
    phone.app.add_reply(said).unwrap();
    phone.app.close().await;
    let mine = |doc: &DocId| doc.author == device && doc.book == BookKind::Home;
    let (_, late) = look(phone, |store| changes(store, mine));
    for _ in 0..2 {
        let taken = desk.app.host().accept(other.id(), late.clone()).unwrap();
        assert!(taken.refused >= 1);
    }
    let refused = |notice: &Notice| matches!(notice, Notice::Refused { .. });
    assert_eq!(desk.notices().iter().filter(|it| refused(it)).count(), 1);
    let all = desk.everything();
    for form in forms(b"a sentence of the child's own") {
        assert!(!holds(&all, &form));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_erased_pupil_leaves_no_names_and_no_counts_behind() {
    let (desk, keeper, phone, pupil) = Device::practice("Keeper", "Zebedee's phone").await;
    let page = phone.invent_page(pupil, 1, 2_000);
    for device in [&phone, &keeper] {
        device.meets().await;
    }
    // The rows of the lists are kept on both.
    desk.pupils();
    keeper.pupils();
    let said = words(pupil, page, "we tried it");
    phone.app.add_reply(said).unwrap();
    for file in phone.files(pupil, Some(keeper.id()), None) {
        keeper.opens(&file).unwrap();
    }
    desk.app.erase_pupil(OfPupil { pupil }).unwrap();
    for _ in 0..2 {
        keeper.meets().await;
        phone.meets().await;
    }
    for device in [desk, keeper] {
        device.app.close().await;
        assert!(!holds(&device.everything(), b"Zebedee"), "a device's name");
        let (_, names) = look(device, |store| store.settings_under("").unwrap());
        assert_eq!(about(pupil, &names), Vec::<&String>::new());
        let owed = names.iter().any(|name| name.starts_with("device/sweep"));
        assert!(!owed, "{names:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_to_which_no_books_have_come_erases_all_that_it_had_noted() {
    let (desk, bag, _, _) = Device::practice("Bag", "Kitchen").await;
    bag.meets().await;
    let pupil = desk.add_pupil("Robin");
    hand_over(&desk, &bag, DocId::is_log);
    assert!(bag.pages(pupil).is_empty());
    bag.app.close().await;
    let noted = format!("acknowledged/{pupil}/{}", desk.id());
    let (bag, _) = look(bag, |store| store.set_setting(&noted, b"{}").unwrap());
    bag.app.erase_pupil(OfPupil { pupil }).unwrap();
    assert_eq!(bag.notices(), [Notice::Erased {}]);
    let (_, names) = look(bag, |store| store.settings_under("").unwrap());
    assert_eq!(about(pupil, &names), Vec::<&String>::new());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_forgotten_at_the_same_time_is_all_swept() {
    let desk = Device::tutor("Study");
    let pupils = [desk.add_pupil("Wren"), desk.add_pupil("Robin")];
    let pages = |pupil, from: u32| -> Vec<_> {
        let numbers = from..from + 6;
        numbers.map(|it| desk.invent_page(pupil, it, 500)).collect()
    };
    let pages = [pages(pupils[0], 10), pages(pupils[1], 20)];
    std::thread::scope(|scope| {
        for (pupil, pages) in pupils.into_iter().zip(&pages) {
            let app = desk.app.clone();
            scope.spawn(move || {
                for &page in pages {
                    let pages = vec![page];
                    app.forget_pages(ForgetPages { pupil, pages }).unwrap();
                }
            });
        }
    });
    let Device { app, folder } = desk;
    drop(app);
    let store = store(folder.path());
    assert_eq!(store.blobs().unwrap().len(), 0);
    assert!(store.settings_under("device/sweep").unwrap().is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_removal_cuts_off_is_told() {
    let (desk, bag, phone, pupil) = Device::practice("Bag", "Kitchen").await;
    bag.meets().await;
    // The desk has two more pages of the phone's than the other laptop, which removes the phone.
    for number in [1, 2] {
        phone.invent_page(pupil, number, 2_000);
    }
    phone.app.close().await;
    hand_over(&phone, &desk, |_| true);
    assert_eq!(desk.pages(pupil).len(), 2);
    let author = phone.id();
    bag.app.remove_device(OfDevice { device: author }).unwrap();
    hand_over(&bag, &desk, |_| true);
    assert!(desk.pages(pupil).is_empty());
    let told = Notice::CutOff {
        pupil,
        author,
        changes: 2,
    };
    assert_eq!(desk.notices(), [told]);
}
