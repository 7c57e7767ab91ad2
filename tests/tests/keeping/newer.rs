//! What a newer version of the program wrote, on devices that run this one: it is kept, handed on and backed up
//! as it is; what is understood stays shown; nothing is written over it.

use app::api::*;
use app::units::{DeviceId, MarkShape, Mm, PageId, PointMm, PupilId, TaskKind};
use casefile::{BookKind, SignedChange};
use pothook_tests::seen_by_both;
use store::Store;

use crate::inside::{NEWER, look, next_change, store};
use crate::people::Device;

fn mark(pupil: PupilId, page: PageId, words: &str) -> AddMark {
    let (x, y) = (Mm(10.0), Mm(10.0));
    AddMark {
        pupil,
        page,
        shape: MarkShape::Note {
            at: PointMm { x, y },
        },
        words: words.to_owned(),
        aspect: None,
        praise: true,
    }
}

fn task(pupil: PupilId) -> SetTask {
    SetTask {
        pupil,
        kind: TaskKind::OwnWords,
        text: None,
        paper: None,
        ruling: None,
        minutes: 10,
        focus: None,
        set_on: None,
    }
}

/// What is shown of a pupil and of a page.
fn shown(device: &Device, pupil: PupilId, page: PageId) -> (PupilView, PageView) {
    let view = device.app.pupil(OfPupil { pupil }).unwrap();
    let page = device.app.page(OfPage { pupil, page }).unwrap();
    (seen_by_both(view), page)
}

/// The document in which a change stands, as it lies in a folder.
fn document(store: &Store, change: &SignedChange) -> Vec<(u64, Vec<u8>)> {
    store.changes(&change.doc.encode(), 1..).unwrap()
}

async fn meets(device: &Device, other: DeviceId) {
    let device_met = Exchange {
        device: Some(other),
    };
    let met = device.app.exchange(device_met).await.unwrap().meetings;
    assert!(met.iter().all(|it| it.problem.is_none()), "{met:?}");
    assert!(met.iter().all(|it| it.refused_changes == 0), "{met:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_newer_version_wrote_is_handed_on_and_backed_up_as_it_is() {
    let (desk, bag, phone, pupil) = Device::practice("Bag", "Kitchen").await;
    let away = Device::parent("Away");
    desk.family(pupil, &away).await;
    let page = phone.invent_page(pupil, 1, 2_000);
    phone.meets().await;
    desk.app
        .add_mark(mark(pupil, page, "well rounded"))
        .unwrap();
    for device in [&phone, &away, &bag] {
        device.meets().await;
    }
    let devices = desk.app.devices(Nothing {}).unwrap().devices;
    let kitchen = devices.iter().find(|row| row.name == "Kitchen").unwrap();
    let (device, address) = (kitchen.device, kitchen.addresses[0].clone());
    let before = [&desk, &phone, &bag, &away].map(|device| shown(device, pupil, page));
    assert!(before.iter().all(|(view, _)| !view.newer));

    // The desk's program was newer for a while, and wrote in the tutor's book.
    desk.app.close().await;
    let (desk, (newer, wanted)) = look(desk, |store| {
        let bytes = b"packed in a way that is yet to come".to_vec();
        let newer = next_change(store, pupil, BookKind::Tutor, NEWER, bytes);
        let doc = newer.doc.encode();
        store.append(&doc, newer.seq, &newer.encode()).unwrap();
        let all = document(store, &newer);
        (newer, all)
    });
    assert!(newer.seq > 1 && wanted.len() as u64 == newer.seq);
    assert!(wanted.contains(&(newer.seq, newer.encode())));

    // From the desk to the phone; then without the desk, to one by a meeting and to one by a file.
    meets(&desk, phone.id()).await;
    desk.app.close().await;
    bag.app.set_address(SetAddress { device, address }).unwrap();
    meets(&bag, phone.id()).await;
    for file in phone.files(pupil, Some(away.id()), None) {
        let opened = away.opens(&file).unwrap();
        assert_eq!((opened.refused_changes, opened.waits), (0, false));
    }
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    bag.back_up(&backup);
    let restored = Device::restored(&backup);

    let devices = [&desk, &phone, &bag, &away, &restored];
    for (device, before) in devices.into_iter().zip(before.iter().chain([&before[2]])) {
        let (mut view, page) = shown(device, pupil, page);
        assert!(view.newer, "it says that there is more");
        view.newer = false;
        assert_eq!((&view, &page), (&before.0, &before.1));
    }
    // Nobody writes in that document, nor leaves it behind by founding the books anew.
    let refused = desk.app.set_task(task(pupil)).unwrap_err();
    assert!(refused.message.contains("newer version"), "{refused:?}");
    for device in [&desk, &bag, &restored] {
        let pages = vec![page];
        let forget = ForgetPages { pupil, pages };
        let refused = device.app.forget_pages(forget).unwrap_err();
        assert!(refused.message.contains("newer version"), "{refused:?}");
        let refused = device.app.shorten_history(OfPupil { pupil }).unwrap_err();
        assert!(refused.message.contains("newer version"), "{refused:?}");
    }
    // In their own documents all others go on, and hear each other.
    bag.app.add_mark(mark(pupil, page, "very even")).unwrap();
    meets(&bag, phone.id()).await;
    let (_, seen) = shown(&phone, pupil, page);
    assert_eq!(seen.marks.len(), 2);

    for device in [desk, phone, bag, away] {
        device.app.close().await;
        let (_, kept) = look(device, |store| document(store, &newer));
        assert!(kept == wanted, "byte for byte");
    }
    let Device { app, folder } = restored;
    app.close().await;
    drop(app);
    let kept = document(&store(&folder.path().join("new")), &newer);
    assert!(kept == wanted, "byte for byte, out of the backup");
}
