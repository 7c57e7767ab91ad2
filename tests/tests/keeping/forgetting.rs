//! After erasure nothing is left of it on any device, and nothing brings it back.

use app::api::*;
use app::units::{AskedFor, Day};

use crate::people::{Device, holds};

/// Bytes that no other picture has: JPEGs begin alike.
fn middle(picture: &[u8]) -> &[u8] {
    let at = picture.len() / 2;
    &picture[at..at + 64]
}

#[tokio::test(flavor = "multi_thread")]
async fn a_forgotten_page_is_gone_from_every_device_and_nothing_brings_it_back() {
    let (desk, keeper, phone, away) = (
        Device::tutor("Study"),
        Device::tutor("Keeper"),
        Device::parent("Kitchen"),
        Device::parent("Away"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.own(&keeper).await;
    desk.family(pupil, &phone).await;
    desk.family(pupil, &away).await;
    let (goes, stays) = (phone.keep_page(pupil, 0), phone.keep_page(pupil, 1));
    for device in [&phone, &away, &keeper] {
        device.meets().await;
    }
    let mark = AddMark {
        pupil,
        page: goes,
        shape: app::units::MarkShape::Note {
            at: app::units::PointMm {
                x: app::units::Mm(10.0),
                y: app::units::Mm(10.0),
            },
        },
        words: "a sentence that is to go".into(),
        aspect: None,
        praise: false,
    };
    desk.app.add_mark(mark).unwrap();
    for device in [&phone, &away, &keeper] {
        device.meets().await;
    }
    let picture = phone.picture(pupil, goes).unwrap();
    let beginning = middle(&picture);
    for device in [&desk, &keeper, &phone, &away] {
        let all = device.everything();
        assert!(holds(&all, beginning) && holds(&all, b"a sentence that is to go"));
    }
    // A backup of before, which nobody can recall.
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    keeper.back_up(&backup);
    // A device that is away meanwhile answers on that very page, and adds another.
    away.app
        .add_reply(AddReply {
            pupil,
            page: goes,
            mark: None,
            words: "a late answer".into(),
        })
        .unwrap();
    let late = away.keep_page(pupil, 2);
    desk.app
        .forget_pages(ForgetPages {
            pupil,
            pages: vec![goes],
        })
        .unwrap();
    for device in [&phone, &keeper, &away] {
        device.meets().await;
        device.meets().await;
    }
    for device in [&desk, &phone, &keeper, &away] {
        device.meets().await;
        let all = device.everything();
        assert!(!holds(&all, beginning), "no photograph");
        assert!(!holds(&all, b"a sentence that is to go"), "no mark");
        assert!(!holds(&all, b"a late answer"), "no late answer");
        let mut pages = device.pages(pupil);
        pages.sort();
        let mut wanted = vec![stays, late];
        wanted.sort();
        assert_eq!(pages, wanted);
        assert!(
            wanted
                .iter()
                .all(|page| device.picture(pupil, *page).is_some())
        );
    }
    let told = away.notices();
    assert_eq!(told, [Notice::LateEditsDropped { pupil, edits: 1 }]);
    // The old backup, brought back as a new device: it meets the others and forgets too.
    let old = Device::restored(&backup);
    assert!(holds(&old.everything(), beginning));
    for _ in 0..2 {
        old.meets().await;
    }
    let all = old.everything();
    assert!(!holds(&all, beginning) && !holds(&all, b"a sentence that is to go"));
    for device in [&desk, &phone, &keeper, &away] {
        device.meets().await;
        assert!(!holds(&device.everything(), beginning));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_erased_pupil_is_gone_from_every_device_and_nothing_brings_it_back() {
    let (desk, keeper, phone) = (
        Device::tutor("Study"),
        Device::tutor("Keeper"),
        Device::parent("Kitchen"),
    );
    let (goes, stays) = (desk.add_pupil("Zephyrine"), desk.add_pupil("Robin"));
    desk.own(&keeper).await;
    desk.family(goes, &phone).await;
    let page = phone.keep_page(goes, 0);
    phone.meets().await;
    desk.app
        .set_note(SetNote {
            pupil: goes,
            note: "a private word".into(),
        })
        .unwrap();
    keeper.meets().await;
    let picture = phone.picture(goes, page).unwrap();
    let marks: [&[u8]; 3] = [middle(&picture), b"Zephyrine", b"a private word"];
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    keeper.back_up(&backup);
    phone
        .app
        .ask_to_forget(AskToForget {
            pupil: goes,
            wish: AskedFor::Everything,
        })
        .unwrap();
    phone.meets().await;
    let asked = desk.app.keeping(OfPupil { pupil: goes }).unwrap();
    assert_eq!(asked.asks.len(), 1);
    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    for device in [&phone, &keeper] {
        device.meets().await;
        device.meets().await;
    }
    for device in [&desk, &keeper, &phone] {
        let all = device.everything();
        for mark in marks {
            assert!(!holds(&all, mark), "{}", String::from_utf8_lossy(mark));
        }
        assert!(!device.pupils().contains(&goes));
    }
    assert_eq!(desk.pupils(), [stays]);
    assert_eq!(phone.notices(), [Notice::Erased {}]);
    let old = Device::restored(&backup);
    assert!(old.pupils().contains(&goes));
    for _ in 0..2 {
        old.meets().await;
    }
    let all = old.everything();
    assert!(marks.iter().all(|mark| !holds(&all, mark)));
    assert_eq!(old.pupils(), [stays]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_year_that_is_over_is_forgotten_and_the_rest_stays() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let page = phone.keep_page(pupil, 0);
    let old = Day(19_000);
    for day in [Some(old), None] {
        let minutes = 10;
        let task = None;
        phone
            .app
            .add_practised(AddPractised {
                pupil,
                day,
                minutes,
                task,
            })
            .unwrap();
    }
    phone.meets().await;
    let day = Day(old.0 + 1);
    desk.app.forget_before(ForgetBefore { pupil, day }).unwrap();
    phone.meets().await;
    phone.meets().await;
    for device in [&desk, &phone] {
        let home = device.app.home(OfPupil { pupil }).unwrap();
        assert_eq!(home.practised.len(), 1);
        assert!(home.practised[0].day > day);
        assert_eq!(device.pages(pupil), [page]);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_taken_out_is_hidden_at_once_and_gone_with_the_next_founding() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let page = phone.keep_page(pupil, 0);
    phone.meets().await;
    let picture = phone.picture(pupil, page).unwrap();
    phone.app.take_page_out(OfPage { pupil, page }).unwrap();
    phone.meets().await;
    assert!(desk.pages(pupil).is_empty() && phone.pages(pupil).is_empty());
    assert!(holds(&desk.everything(), middle(&picture)));
    desk.app.shorten_history(OfPupil { pupil }).unwrap();
    phone.meets().await;
    for device in [&desk, &phone] {
        assert!(!holds(&device.everything(), middle(&picture)));
    }
}
