//! Backups, and what comes of them.

use std::io::Read;
use std::sync::Arc;

use app::App;
use app::api::*;
use app::units::Role;
use casefile::DocId;
use pothook_tests::opener;

use crate::inside::{changes, look, store};
use crate::people::{Device, PASSPHRASE, holds};

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_made_from_a_backup_goes_on_and_takes_what_came_after_it() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let first = phone.keep_page(pupil, 0);
    phone.meets().await;
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    // After the backup: the tutor looks at it, then the laptop is lost.
    desk.app.look(OfPage { pupil, page: first }).unwrap();
    phone.meets().await;
    desk.app.close().await;
    drop(desk);
    let second = phone.keep_page(pupil, 1);
    let new = Device::restored(&backup);
    assert_eq!(new.pages(pupil), [first]);
    for _ in 0..2 {
        new.meets().await;
    }
    let view = new.app.page(OfPage { pupil, page: first }).unwrap();
    assert!(view.record.looked_at.is_some(), "written after the backup");
    let mut pages = new.pages(pupil);
    pages.sort();
    let mut wanted = vec![first, second];
    wanted.sort();
    assert_eq!(pages, wanted);
    // It writes as a device of its own, and the phone takes it.
    new.app
        .look(OfPage {
            pupil,
            page: second,
        })
        .unwrap();
    new.meets().await;
    let of = OfPage {
        pupil,
        page: second,
    };
    assert!(phone.app.page(of).unwrap().record.looked_at.is_some());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_that_is_nobodys_yet_takes_a_backup_in() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let first = phone.keep_page(pupil, 0);
    phone.meets().await;
    desk.app.look(OfPage { pupil, page: first }).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    let before = desk.id();
    desk.app.close().await;
    drop(desk);
    let second = phone.keep_page(pupil, 1);

    let asked = |passphrase: &str| BringBack {
        path: backup.display().to_string(),
        passphrase: passphrase.to_owned(),
    };
    let at = folder.path().join("new");
    let app = pothook_tests::open(&at).unwrap();
    let refused = app.bring_back(asked("another passphrase")).unwrap_err();
    assert_eq!(refused.code, "wrong-passphrase");
    assert_eq!(app.overview(Nothing {}).unwrap().device, None);
    let mut events = app.events();
    let overview = app.bring_back(asked(PASSPHRASE)).unwrap();
    assert_eq!(events.try_recv().unwrap(), Event::Changed { pupil: None });
    let device = overview.device.unwrap();
    assert_eq!((device.role, &*device.name), (Role::Tutor, "Study"));
    assert_ne!(device.id, before);
    // At once, without a new start, it is a device of the practice, and takes what came since.
    let new = Device { app, folder };
    assert_eq!(new.pages(pupil), [first]);
    for _ in 0..2 {
        new.meets().await;
    }
    assert!(new.pages(pupil).contains(&second));
    let of = OfPage {
        pupil,
        page: second,
    };
    new.app.look(of).unwrap();
    new.meets().await;
    let looked = phone.app.page(of).unwrap().record.looked_at;
    assert!(looked.is_some());
    // What a device holds is never mixed with a backup.
    let refused = new.app.bring_back(asked(PASSPHRASE)).unwrap_err();
    assert_eq!(refused.code, "already-settled");
    // And it is the same device after a new start.
    new.app.close().await;
    let Device { app, folder } = new;
    drop(app);
    let disk = Arc::new(()) as Arc<dyn store::Disk>;
    let app = crate::people::open(&at, &disk).unwrap();
    assert_eq!(app.overview(Nothing {}).unwrap().device, Some(device));
    drop(folder);
}

#[test]
fn a_photograph_that_waits_does_not_come_back_from_a_backup() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let (_, photo) = pothook_tests::KnownPage::ordinary();
    let about = StagePhoto {
        pupil,
        task: None,
        kind: None,
        written_on: None,
    };
    desk.app.stage_photo(&photo, about).unwrap();
    let waits = |app: &App| app.waiting_photos(OfPupil { pupil }).unwrap().photos.len();
    assert_eq!(waits(&desk.app), 1);
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    let new = Device::restored(&backup);
    assert_eq!(new.pupils(), [pupil]);
    assert_eq!(waits(&new.app), 0);
    // Nor does its picture.
    let Device { app, folder } = new;
    drop(app);
    assert_eq!(store(&folder.path().join("new")).blobs().unwrap(), []);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_folder_made_from_a_backup_is_never_the_device_before() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    let old = desk.id();
    desk.app.close().await;
    let (desk, secret) = look(desk, |store| store.setting("device/secret").unwrap());
    drop(desk);
    let new = folder.path().join("new");
    App::restore(&backup, PASSPHRASE, &new, &opener()).unwrap();
    // Whenever it is cut short, there is no moment at which it would open as the one before.
    let restored = store(&new);
    assert_eq!(restored.setting("device/secret").unwrap(), None);
    assert_eq!(restored.setting("device/before").unwrap(), secret);
    drop(restored);
    let folder = folder.keep();
    let app = crate::people::open(&new, &(Arc::new(()) as Arc<dyn store::Disk>)).unwrap();
    let overview = app.overview(Nothing {}).unwrap();
    let id = overview.device.unwrap().id;
    assert_ne!(id, old);
    // Admitted by the one before, it is let in; then that one's key is of no use any more.
    let met = app
        .exchange(Exchange {
            device: Some(phone.id()),
        })
        .await;
    assert!(met.unwrap().meetings[0].problem.is_none());
    app.close().await;
    drop(app);
    let restored = store(&new);
    assert_eq!(restored.setting("device/before").unwrap(), None);
    drop(restored);
    std::fs::remove_dir_all(folder).unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_made_from_a_backup_that_is_removed_does_not_let_itself_in_again() {
    let (desk, bag, phone, pupil) = Device::practice("Bag", "Kitchen").await;
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    let new = Device::restored(&backup);
    // It has met the other laptop, but not the phone: the key of the one before is still there.
    phone.app.close().await;
    let met = new
        .app
        .exchange(Exchange {
            device: Some(bag.id()),
        })
        .await;
    assert!(met.unwrap().meetings[0].problem.is_none());
    let device = new.id();
    bag.app.remove_device(OfDevice { device }).unwrap();
    new.app.close().await;
    bag.app.close().await;
    let (bag, logs) = look(bag, |store| changes(store, DocId::is_log));
    new.app.host().accept(bag.id(), logs).unwrap();
    let Device { app, folder } = new;
    drop(app);
    let at = folder.path().join("new");
    let app = crate::people::open(&at, &(Arc::new(()) as Arc<dyn store::Disk>)).unwrap();
    let pupils = app.devices(Nothing {}).unwrap().devices;
    assert!(pupils.iter().any(|row| row.device == bag.id()));
    let day = Some(app::units::Day(30_000));
    let refused = app.set_delete_by(SetDeleteBy { pupil, day });
    assert_eq!(refused.unwrap_err().code, "not-written");
    assert!(!bag.app.host().knows(device));
}

#[test]
fn backups_are_checked_and_never_written_over() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("backup");
    let asked = |passphrase: &str| BackUp {
        path: file.display().to_string(),
        passphrase: passphrase.to_owned(),
    };
    let refused = desk.app.back_up(asked("short")).unwrap_err();
    assert_eq!(refused.code, "passphrase-short");
    let good = "four unusual words here";
    let done = desk.app.back_up(asked(good)).unwrap();
    assert_eq!(App::check_backup(&asked(good)).unwrap(), done);
    assert_eq!(
        desk.app.back_up(asked(good)).unwrap_err().code,
        "file-there"
    );
    let refused = App::check_backup(&asked("four other words here")).unwrap_err();
    assert_eq!(refused.code, "wrong-passphrase");
    let bytes = std::fs::read(&file).unwrap();
    assert!(!holds(&bytes, b"Wren"));
    // Into a folder that is in use nothing is restored.
    let refused = App::restore(&file, good, desk.folder.path(), &opener()).unwrap_err();
    assert!(
        ["folder-occupied", "data-in-use"].contains(&refused.code.as_str()),
        "{}",
        refused.code
    );
    let mut bent = bytes.clone();
    let last = bent.len() - 40;
    bent[last] ^= 1;
    std::fs::write(&file, bent).unwrap();
    let to = folder.path().join("new");
    let refused = App::restore(&file, good, &to, &opener()).unwrap_err();
    assert_eq!(refused.code, "backup-damaged");
    assert_eq!(desk.pupils(), [pupil]);
}

#[test]
fn all_of_a_pupil_is_handed_over_in_open_formats() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let page = desk.keep_page(pupil, 0);
    let mut file = std::io::Cursor::new(Vec::new());
    desk.app.export_pupil(pupil, &mut file).unwrap();
    let mut zip = zip::ZipArchive::new(file).unwrap();
    let mut read = |name: &str| {
        let mut bytes = Vec::new();
        zip.by_name(name).unwrap().read_to_end(&mut bytes).unwrap();
        bytes
    };
    let all: serde_json::Value = serde_json::from_slice(&read("pupil.json")).unwrap();
    assert_eq!(all["profile"]["name"], "Wren");
    assert_eq!(all["pages"][0]["id"], page.to_string());
    let day = all["pages"][0]["writtenOn"].as_str().unwrap();
    let picture = read(&format!("pages/{day} {page}.jpg"));
    assert_eq!(Some(picture), desk.picture(pupil, page));
    let reading = read(&format!("pages/{day} {page}.json"));
    let reading: serde_json::Value = serde_json::from_slice(&reading).unwrap();
    assert!(
        reading["letters"]
            .as_array()
            .is_some_and(|letters| !letters.is_empty())
    );
    let csv = String::from_utf8(read("figures.csv")).unwrap();
    let rows: Vec<Vec<&str>> = csv.lines().map(|line| line.split(',').collect()).collect();
    assert!(rows.len() > 10 && rows.iter().all(|row| row.len() == 9));
    let height = rows.iter().find(|row| row[3] == "x_height").unwrap();
    let told: f64 = height[4].parse().unwrap();
    let view = desk.app.page(OfPage { pupil, page }).unwrap();
    let measures = &view.record.readings[0].measures;
    let kept = measures
        .iter()
        .find(|it| it.name.text() == "x_height")
        .unwrap();
    assert!(matches!(kept.outcome, app::units::Outcome::Measured { value, .. } if value == told));
    assert!(read("practice.csv").starts_with(b"day,minutes,task"));
}
