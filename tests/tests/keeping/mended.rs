//! What a damaged file, a full disk, a device that is away or one that repeats itself does not do: lose a
//! picture, keep others waiting, or drown what is to be heard.

use std::io::Read;
use std::net::UdpSocket;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use app::api::*;
use app::units::PupilId;
use casefile::BookKind;
use store::Disk;

use crate::inside::{hand_over, look, next_change};
use crate::people::{Device, holds};
use crate::waiting::Filling;

/// Alters a byte in every file of a picture or a whole reading.
fn damage_pictures(folder: &Path) {
    damage_all(&folder.join("blobs"));
}

fn damage_all(folder: &Path) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            damage_all(&path);
            continue;
        }
        let mut bytes = std::fs::read(&path).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        std::fs::write(&path, bytes).unwrap();
    }
}

fn told(device: &Device, code: &str) -> usize {
    let notices = device.notices().into_iter();
    let told = notices
        .filter(|notice| matches!(notice, Notice::Unfinished { problem } if problem.code == code));
    told.count()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_picture_comes_again_and_stands_in_no_others_way() {
    let (desk, keeper, phone, pupil) = Device::practice("Keeper", "Kitchen").await;
    let pages = [1, 2].map(|number| phone.invent_page(pupil, number, 20_000));
    phone.meets_one(&desk).await;
    let pictures = pages.map(|page| desk.picture(pupil, page).unwrap());
    damage_pictures(desk.folder.path());
    let later = desk.invent_page(pupil, 3, 20_000);
    phone.app.close().await;
    let met = keeper.meets_one(&desk).await;
    assert!(met.iter().all(|met| met.problem.is_none()), "{met:?}");
    assert!(
        keeper.has_picture(pupil, later),
        "what is sound comes all the same"
    );
    for page in pages {
        assert!(!desk.has_picture(pupil, page) && !keeper.has_picture(pupil, page));
    }
    assert_eq!(told(&desk, "picture-damaged"), 1);
    // The phone still has them.
    phone.app.listen().await.unwrap();
    for device in [&phone, &keeper] {
        let met = device.meets_one(&desk).await;
        assert!(met.iter().all(|met| met.problem.is_none()), "{met:?}");
    }
    for (page, picture) in pages.into_iter().zip(pictures) {
        assert_eq!(desk.picture(pupil, page), Some(picture));
        assert!(keeper.has_picture(pupil, page));
    }
}

/// A laptop that has been brought the last part of what another wrote before it shortened the history, and
/// nothing before it; the part waits.
async fn with_a_part_that_waits(disk: &Arc<Filling>) -> (Device, Device, PupilId, Vec<CarryFile>) {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let bag = bag.restarted_on(Arc::clone(disk) as Arc<dyn Disk>);
    for number in [1, 2, 3] {
        desk.invent_page(pupil, number, 150_000);
    }
    let mut files = desk.files(pupil, None, Some(200_000));
    assert!(files.len() >= 2);
    let last = files.pop().unwrap();
    assert!(bag.opens(&last).unwrap().waits);
    desk.app.shorten_history(OfPupil { pupil }).unwrap();
    (desk, bag, pupil, files)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_disk_that_is_full_when_the_books_are_founded_anew_costs_no_file_that_waits() {
    let disk = Filling::empty();
    let (desk, bag, pupil, _) = with_a_part_that_waits(&disk).await;
    disk.pictures.store(0, Ordering::SeqCst);
    hand_over(&desk, &bag, |_| true);
    assert_eq!(
        (told(&bag, "disk-full"), told(&bag, "carry-let-go")),
        (1, 0)
    );
    disk.pictures.store(1_000, Ordering::SeqCst);
    let bag = bag.restarted();
    assert_eq!(told(&bag, "carry-let-go"), 0);
    let here = bag.pages(pupil).into_iter();
    assert!(here.filter(|page| bag.has_picture(pupil, *page)).count() >= 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_file_that_waits_stops_no_forgetting() {
    let (desk, bag, pupil, files) = with_a_part_that_waits(&Filling::empty()).await;
    damage_pictures(bag.folder.path());
    hand_over(&desk, &bag, |_| true);
    assert_eq!(told(&bag, "carry-let-go"), 1);
    let (bag, owed) = look(bag, |store| store.settings_under("device/sweep").unwrap());
    assert!(owed.is_empty());
    // What comes later is taken without a word about it.
    for file in &files {
        bag.opens(file).unwrap();
    }
    let here = bag.pages(pupil).into_iter();
    assert!(here.filter(|page| bag.has_picture(pupil, *page)).count() >= 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn words_about_a_forgotten_page_are_kept_no_longer_while_they_are_typed() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let [goes, stays] = [1, 2].map(|number| phone.invent_page(pupil, number, 2_000));
    phone.meets().await;
    let typed = |page, text: &str| {
        let (key, text) = (format!("reply/{page}"), text.to_owned());
        phone.app.keep_draft(KeepDraft { key, text }).unwrap();
    };
    typed(goes, "Zebedee tried");
    typed(stays, "Dougal tried");
    let pages = vec![goes];
    desk.app.forget_pages(ForgetPages { pupil, pages }).unwrap();
    phone.meets().await;
    typed(goes, "Zebedee tried it twice");
    typed(stays, "Dougal tried it twice");
    let all = phone.everything();
    assert!(!holds(&all, b"Zebedee"));
    assert!(holds(&all, b"Dougal tried it twice"));
}

#[tokio::test(flavor = "multi_thread")]
async fn one_that_brings_what_is_refused_again_and_again_does_not_drown_the_rest() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.family(wren, &phone).await;
    let page = desk.invent_page(wren, 1, 2_000);
    phone.meets().await;
    let from = phone.id();
    phone.app.close().await;
    // Changes of another pupil's home book, each another.
    let (_, changes) = look(phone, |store| {
        let change = |number: u32| {
            let bytes = number.to_le_bytes().to_vec();
            next_change(store, robin, BookKind::Home, 1, bytes).encode()
        };
        (0..600).map(change).collect::<Vec<_>>()
    });
    let refused = |desk: &Device| {
        let notices = desk.notices().into_iter();
        notices
            .filter(|notice| matches!(notice, Notice::Refused { .. }))
            .count()
    };
    for _ in 0..3 {
        for some in changes[..100].chunks(50) {
            let taken = desk.app.host().accept(from, some.to_vec()).unwrap();
            assert_eq!(taken.refused, 50);
        }
    }
    assert_eq!(refused(&desk), 1, "the same, again at every meeting");
    for some in changes.chunks(2) {
        desk.app.host().accept(from, some.to_vec()).unwrap();
    }
    assert!(refused(&desk) <= 16);
    assert_eq!(desk.pages(wren), [page]);
    assert!(desk.pages(robin).is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_copy_of_everything_says_what_it_lacks() {
    let (desk, bag, _, pupil) = Device::practice("Bag", "Kitchen").await;
    let pages = [1, 2].map(|number| desk.invent_page(pupil, number, 2_000));
    hand_over(&desk, &bag, |_| true);
    let copy = || {
        let mut file = std::io::Cursor::new(Vec::new());
        let lacks = bag.app.export_pupil(pupil, &mut file).unwrap();
        let told = bag.app.keeping(OfPupil { pupil }).unwrap().lacks;
        assert_eq!(told, lacks, "the screen says it before");
        let mut zip = zip::ZipArchive::new(file).unwrap();
        let lacking = zip.by_name("lacking.csv").ok().map(|mut file| {
            let mut csv = String::new();
            file.read_to_string(&mut csv).unwrap();
            csv
        });
        (lacks, lacking)
    };
    let (lacks, lacking) = copy();
    assert_eq!((lacks.pages, lacks.newer), (2, false));
    let lacking = lacking.unwrap();
    for page in pages {
        let of_page = lacking
            .lines()
            .filter(|line| line.starts_with(&page.to_string()));
        let what: Vec<&str> = of_page.filter_map(|line| line.rsplit(',').next()).collect();
        assert_eq!(what, ["picture", "letters"]);
    }
    bag.meets().await;
    assert_eq!(copy(), (CopyLacks::default(), None));
}

#[tokio::test(flavor = "multi_thread")]
async fn devices_that_are_away_keep_nobody_waiting() {
    let desk = Device::tutor("Study");
    let mut away = Vec::new();
    for number in 0..4 {
        let (pupil, phone) = (
            desk.add_pupil(&format!("Wren {number}")),
            Device::parent("Away"),
        );
        desk.family(pupil, &phone).await;
        phone.app.close().await;
        // What is sent to it is taken, and never answered.
        let silence = UdpSocket::bind("127.0.0.1:0").unwrap();
        silence
            .set_read_timeout(Some(Duration::from_secs(60)))
            .unwrap();
        let address = silence.local_addr().unwrap().to_string();
        let device = phone.id();
        desk.app
            .set_address(SetAddress { device, address })
            .unwrap();
        away.push((device, silence));
    }
    let all = tokio::spawn({
        let app = desk.app.clone();
        async move { app.exchange(Exchange { device: None }).await }
    });
    // All of them are called before any is given up.
    let called = tokio::task::spawn_blocking(move || {
        let mut called = Vec::new();
        for (device, silence) in &away {
            let heard = silence.recv_from(&mut [0; 2_000]);
            called.extend(heard.is_ok().then_some(*device));
        }
        called
    });
    let mut called = called.await.unwrap();
    desk.app.stop_exchange(Nothing {}).unwrap();
    let met = all.await.unwrap().unwrap().meetings;
    for meeting in &met {
        let code = meeting
            .problem
            .as_ref()
            .map(|problem| problem.code.as_str());
        assert_eq!(code, Some("stopped"));
    }
    let mut met: Vec<_> = met.iter().map(|meeting| meeting.device).collect();
    met.sort_unstable();
    called.sort_unstable();
    assert_eq!(met, called);
    assert_eq!(met.len(), 4);
}
