//! Second laptop, second parent, a lost phone, a new phone, a lost laptop, the key on paper.

use app::api::*;
use app::units::Role;
use casefile::DocId;

use crate::people::{Device, holds};

#[tokio::test(flavor = "multi_thread")]
async fn a_second_laptop_holds_everything_and_meets_the_families_itself() {
    let (desk, second, phone) = (
        Device::tutor("Study"),
        Device::tutor("Bag"),
        Device::parent("Kitchen"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let page = phone.keep_page(pupil, 0);
    phone.meets().await;
    desk.app
        .set_note(SetNote {
            pupil,
            note: "tires after ten minutes".into(),
        })
        .unwrap();
    desk.own(&second).await;
    assert_eq!(second.pupils(), [pupil]);
    assert_eq!(second.pages(pupil), [page]);
    assert!(second.picture(pupil, page).is_some());
    let home = second.app.home(OfPupil { pupil }).unwrap();
    assert_eq!(home.note.as_deref(), Some("tires after ten minutes"));
    // A pupil added on the one is on the other, and both may write.
    let other = second.add_pupil("Robin");
    second.meets().await;
    assert_eq!(desk.pupils().len(), 2);
    desk.app
        .set_delete_by(SetDeleteBy {
            pupil: other,
            day: Some(app::units::Day(30_000)),
        })
        .unwrap();
    // The phone hears of the second laptop and meets it, though the two were never paired.
    phone.meets().await;
    let names: Vec<String> = phone
        .app
        .devices(Nothing {})
        .unwrap()
        .devices
        .into_iter()
        .map(|row| row.name)
        .collect();
    assert!(names.contains(&"Bag".to_owned()), "{names:?}");
    let devices = desk.app.devices(Nothing {}).unwrap().devices;
    let kitchen = devices.iter().find(|row| row.name == "Kitchen").unwrap();
    desk.app.close().await;
    second
        .app
        .set_address(SetAddress {
            device: kitchen.device,
            address: kitchen.addresses[0].clone(),
        })
        .unwrap();
    second.app.look(OfPage { pupil, page }).unwrap();
    let met = second.meets().await;
    assert!(met.iter().any(|meeting| meeting.problem.is_none()));
    // Private notes have never left the tutor's devices, nor has the other pupil.
    let on_phone = phone.everything();
    assert!(!holds(&on_phone, b"tires after") && !holds(&on_phone, b"Robin"));
    assert!(holds(&on_phone, b"Wren"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lost_phone_is_let_in_no_more_and_a_new_one_has_the_whole_history() {
    let (desk, lost, new) = (
        Device::tutor("Study"),
        Device::parent("Old phone"),
        Device::parent("New phone"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &lost).await;
    let page = lost.keep_page(pupil, 0);
    lost.meets().await;
    let device = desk.app.devices(Nothing {}).unwrap().devices[0].device;
    desk.app.remove_device(OfDevice { device }).unwrap();
    // Whoever has the phone writes on, and meets nobody.
    lost.keep_page(pupil, 1);
    let met = lost.meets().await;
    assert_eq!(met[0].problem.as_ref().unwrap().code, "not-paired");
    let removed = desk.app.devices(Nothing {}).unwrap().devices;
    assert!(removed[0].removed);
    desk.family(pupil, &new).await;
    assert_eq!(new.pages(pupil), [page]);
    assert!(new.picture(pupil, page).is_some());
    assert_eq!(desk.pages(pupil), [page]);
    // Nor does it get in by way of the new phone, which has heard of the removal.
    let met = lost.meets().await;
    assert!(met.iter().all(|meeting| meeting.problem.is_some()));
    let refused = desk.app.remove_device(OfDevice {
        device: desk.app.overview(Nothing {}).unwrap().device.unwrap().id,
    });
    assert_eq!(refused.unwrap_err().code, "own-device");
    let refused = new.app.remove_device(OfDevice { device });
    assert_eq!(refused.unwrap_err().code, "other-side");
}

#[tokio::test(flavor = "multi_thread")]
async fn two_parents_both_add_pages() {
    let (desk, one, two) = (
        Device::tutor("Study"),
        Device::parent("Mum"),
        Device::parent("Dad"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &one).await;
    desk.family(pupil, &two).await;
    let mut wanted = vec![one.keep_page(pupil, 0), two.keep_page(pupil, 1)];
    for _ in 0..2 {
        one.meets().await;
        two.meets().await;
    }
    wanted.sort();
    for device in [&desk, &one, &two] {
        let mut pages = device.pages(pupil);
        pages.sort();
        assert_eq!(pages, wanted);
        assert!(
            wanted
                .iter()
                .all(|page| device.picture(pupil, *page).is_some())
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn with_all_laptops_lost_the_key_on_paper_brings_the_tutor_back() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    let paper = desk.app.make_paper_key(MakePaperKey::default()).unwrap();
    assert_eq!(desk.app.overview(Nothing {}).unwrap().paper_key, Some(true));
    let refused = desk.app.make_paper_key(MakePaperKey::default());
    assert_eq!(refused.unwrap_err().code, "paper-key-there");
    // Pupils that come later have it too.
    let later = desk.add_pupil("Robin");
    desk.family(pupil, &phone).await;
    desk.family(later, &phone).await;
    let page = phone.keep_page(later, 0);
    phone.meets().await;
    assert!(!holds(&desk.everything(), paper.text.as_bytes()));
    desk.app.close().await;
    drop(desk);

    let new = Device::tutor("New laptop");
    for pupil in [pupil, later] {
        // Without the key nothing comes of it.
        let offer = OfferPairing::TutorAgain { pupil };
        let key = Some(paper.text.clone());
        pothook_tests::pair_for(&phone.app, offer, &new.app, key).await;
        new.meets().await;
    }
    assert_eq!(new.pupils(), [pupil, later]);
    // A meeting that the pairing began may still be under way.
    crate::people::soon("the books are back", || {
        new.pages(later) == [page] && new.picture(later, page).is_some()
    })
    .await;
    new.app
        .set_note(SetNote {
            pupil,
            note: "back again".into(),
        })
        .unwrap();
    // The lost laptop is removed, and whoever has it is let in no more.
    let lost = new
        .app
        .devices(Nothing {})
        .unwrap()
        .devices
        .into_iter()
        .find(|row| row.role == Role::Tutor)
        .unwrap();
    new.app
        .remove_device(OfDevice {
            device: lost.device,
        })
        .unwrap();
    new.meets().await;
    let on_phone = phone.app.devices(Nothing {}).unwrap().devices;
    let tutors: Vec<(bool, Role)> = on_phone.iter().map(|row| (row.removed, row.role)).collect();
    assert!(tutors.contains(&(false, Role::Tutor)), "{on_phone:?}");
    assert!(
        on_phone
            .iter()
            .any(|row| row.device == lost.device && row.removed)
    );
}

/// Two laptops of which each has pupils of its own.
#[tokio::test(flavor = "multi_thread")]
async fn two_practices_are_not_made_one_and_neither_takes_the_other_in() {
    let (desk, other) = (Device::tutor("Study"), Device::tutor("Bag"));
    let (wren, robin) = (desk.add_pupil("Wren"), other.add_pupil("Robin"));
    let state = desk.app.offer_pairing(OfferPairing::OwnDevice {}).await;
    let PairingState::Waiting { offered } = state.unwrap() else {
        panic!("no offer");
    };
    let join = JoinPairing {
        code: offered.code,
        paper_key: None,
    };
    other.app.join_pairing(join).await.unwrap();
    for side in [&desk, &other] {
        crate::people::soon("words are shown", || {
            let state = side.app.pairing(Nothing {}).unwrap();
            matches!(state, PairingState::Compare { .. })
        })
        .await;
        side.app
            .confirm_pairing(ConfirmPairing { same: true })
            .await
            .unwrap();
    }
    for side in [&desk, &other] {
        crate::people::soon("it is refused", || {
            let state = side.app.pairing(Nothing {}).unwrap();
            matches!(state, PairingState::Failed { problem } if problem.code == "two-practices")
        })
        .await;
        let devices = side.app.devices(Nothing {}).unwrap().devices;
        assert!(devices.is_empty(), "{devices:?}");
        assert!(side.app.exchange(Exchange { device: None }).await.is_err());
    }
    assert_eq!((desk.pupils(), other.pupils()), (vec![wren], vec![robin]));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_false_paper_key_lets_nobody_in() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.app.make_paper_key(MakePaperKey::default()).unwrap();
    desk.family(pupil, &phone).await;
    let stranger = Device::tutor("Stranger");
    // A key of the stranger's own making.
    let own = stranger
        .app
        .make_paper_key(MakePaperKey::default())
        .unwrap();
    let offer = OfferPairing::TutorAgain { pupil };
    let state = phone.app.offer_pairing(offer).await.unwrap();
    let PairingState::Waiting { offered } = state else {
        panic!("{state:?}");
    };
    stranger
        .app
        .join_pairing(JoinPairing {
            code: offered.code,
            paper_key: Some(own.text),
        })
        .await
        .unwrap();
    for side in [&phone, &stranger] {
        crate::people::soon("words are shown", || {
            let state = side.app.pairing(Nothing {}).unwrap();
            matches!(state, PairingState::Compare { .. })
        })
        .await;
        side.app
            .confirm_pairing(ConfirmPairing { same: true })
            .await
            .unwrap();
    }
    crate::people::soon("the stranger is refused", || {
        let state = stranger.app.pairing(Nothing {}).unwrap();
        matches!(state, PairingState::Failed { .. })
    })
    .await;
    let _ = stranger.app.exchange(Exchange { device: None }).await;
    // Even after people have said yes it has seen no more than the log: keys, and no name.
    assert!(!holds(&stranger.everything(), b"Wren"));
    assert!(stranger.pupils().is_empty());
    // Nor would it be handed more if it asked for it.
    let (host, stranger) = (phone.app.host(), stranger.id());
    let logs = host.have(stranger).unwrap();
    for (name, _) in host.have(desk.id()).unwrap() {
        let is_log = DocId::decode(&name).unwrap().is_log();
        assert_eq!(logs.iter().any(|(shown, _)| *shown == name), is_log);
        let handed = host.changes(stranger, &name, 0).unwrap();
        assert_eq!(!handed.is_empty(), is_log);
    }
}
