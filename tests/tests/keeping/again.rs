//! Devices that are let in again: a laptop made from a backup, however its first start was cut short, one
//! made from such a laptop's backup, and one that was removed by mistake.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;

use app::App;
use app::api::*;
use pothook_tests::opener;
use store::Disk;

use crate::inside::store;
use crate::people::{Device, PASSPHRASE, open};
use crate::waiting::Filling;

/// The keys of the devices before that lie in a folder.
fn keys_before(folder: &Path) -> usize {
    let names = store(folder).settings_under("device/before");
    names.unwrap().len()
}

async fn meets(app: &App, phone: &Device) -> Option<String> {
    let device = Some(phone.id());
    let met = app.exchange(Exchange { device }).await.unwrap();
    let problem = met.meetings.into_iter().next().unwrap().problem;
    problem.map(|problem| problem.code)
}

/// The folder of a laptop made from the backup of one that has met a family's phone, not opened yet; and the
/// phone.
async fn made_from_a_backup() -> (tempfile::TempDir, PathBuf, Device) {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    desk.meets().await;
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    desk.app.close().await;
    let at = folder.path().join("new");
    App::restore(&backup, PASSPHRASE, &at, &opener()).unwrap();
    (folder, at, phone)
}

/// A disk that has room for one transaction.
fn nearly_full() -> Arc<Filling> {
    let disk = Filling::empty();
    disk.commits.store(1, Ordering::SeqCst);
    disk
}

/// The next start, on a disk that never objects, brings the laptop back to all.
async fn is_let_in_at_the_next_start(at: &Path, phone: &Device) {
    assert_eq!(keys_before(at), 1, "what is to let it in is still there");
    let app = open(at, &(Arc::new(()) as Arc<dyn Disk>)).unwrap();
    assert_eq!(meets(&app, phone).await, None);
    app.close().await;
    drop(app);
    assert_eq!(keys_before(at), 0, "everybody has met it");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_made_from_a_backup_on_a_full_disk_is_let_in_later() {
    let (_folder, at, phone) = made_from_a_backup().await;
    let disk = nearly_full();
    let app = open(&at, &(Arc::clone(&disk) as Arc<dyn Disk>)).unwrap();
    // In the same run there is room again, and it tries whom it knows.
    disk.commits.store(usize::MAX, Ordering::SeqCst);
    assert_eq!(meets(&app, &phone).await.as_deref(), Some("not-paired"));
    app.close().await;
    drop(app);
    is_let_in_at_the_next_start(&at, &phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_made_from_a_backup_whose_first_starts_are_cut_short_is_let_in_later() {
    let (_folder, at, phone) = made_from_a_backup().await;
    // Of what is to be done first, each start does one step; then the power goes.
    for _ in 0..4 {
        drop(open(&at, &(nearly_full() as Arc<dyn Disk>)).unwrap());
    }
    is_let_in_at_the_next_start(&at, &phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backup_of_a_laptop_that_nobody_has_met_brings_back_one_that_is_let_in() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let folder = tempfile::tempdir().unwrap();
    let backups = [0, 1, 2].map(|number| folder.path().join(format!("backup {number}")));
    desk.back_up(&backups[0]);
    desk.app.close().await;
    drop(desk);
    // Two in a row are lost before they have met anybody.
    for pair in backups.windows(2) {
        Device::restored(&pair[0]).back_up(&pair[1]);
    }
    let new = Device::restored(&backups[2]);
    assert_eq!(meets(&new.app, &phone).await, None);
    let page = new.invent_page(pupil, 1, 2_000);
    assert_eq!(meets(&new.app, &phone).await, None);
    assert!(phone.has_picture(pupil, page));
    new.app.close().await;
    let Device { app, folder } = new;
    drop(app);
    let at = folder.path().join("new");
    assert_eq!(keys_before(&at), 0, "everybody has met it");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_that_was_removed_by_mistake_is_let_in_again_by_pairing() {
    let (desk, bag, phone, pupil) = Device::practice("Bag", "Kitchen").await;
    let device = bag.id();
    desk.app.remove_device(OfDevice { device }).unwrap();
    phone.meets().await;
    let met = bag.meets().await;
    assert!(met.iter().all(|meeting| meeting.problem.is_some()));
    let before = bag.invent_page(pupil, 1, 2_000);
    desk.own(&bag).await;
    let after = bag.invent_page(pupil, 2, 2_000);
    for _ in 0..2 {
        bag.meets().await;
        phone.meets().await;
    }
    let rows = desk.app.devices(Nothing {}).unwrap().devices;
    let row = rows.iter().find(|row| row.device == device).unwrap();
    assert!(!row.removed && row.pupils == [pupil], "{row:?}");
    for other in [&desk, &phone] {
        let pages = other.pages(pupil);
        assert!(pages.contains(&before) && pages.contains(&after));
        assert!(other.has_picture(pupil, after));
    }
    // Only a person's word does that: nothing that the desk does by itself lets a removed one in again.
    desk.app.remove_device(OfDevice { device }).unwrap();
    desk.app.close().await;
    let desk = desk.restarted();
    let rows = desk.app.devices(Nothing {}).unwrap().devices;
    assert!(rows.iter().any(|row| row.device == device && row.removed));
}
