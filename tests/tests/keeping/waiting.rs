//! Carry files that come before what they rest on, and what is told of what was handed over.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use app::api::*;
use casefile::DocId;
use store::{Disk, Step};

use crate::inside::{hand_over, look};
use crate::people::{Device, invented};

/// A disk that has room for so many more pictures and transactions, and perhaps none for a copy of the
/// database.
pub struct Filling {
    pub pictures: AtomicUsize,
    pub commits: AtomicUsize,
    pub copies: AtomicBool,
}

impl Filling {
    pub fn empty() -> Arc<Self> {
        Arc::new(Self {
            pictures: AtomicUsize::new(1_000),
            commits: AtomicUsize::new(usize::MAX),
            copies: AtomicBool::new(true),
        })
    }
}

impl Disk for Filling {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let one_less = |left: &AtomicUsize| {
            let one_less = |left: usize| left.checked_sub(1);
            left.fetch_update(Ordering::SeqCst, Ordering::SeqCst, one_less)
                .is_ok()
        };
        let room = match step {
            Step::Create(path) if is_picture(path) => one_less(&self.pictures),
            Step::Commit => one_less(&self.commits),
            Step::Copy(_) => self.copies.load(Ordering::SeqCst),
            _ => true,
        };
        match room {
            true => Ok(()),
            false => Err(io::ErrorKind::StorageFull.into()),
        }
    }
}

fn is_picture(path: &Path) -> bool {
    path.iter().any(|part| part == "blobs")
}

/// A disk on which the next picture is written only once another thread is done, or does not get there.
#[derive(Default)]
struct Pausing {
    armed: AtomicBool,
    paused: AtomicBool,
    other_done: AtomicBool,
}

impl Disk for Pausing {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let picture = matches!(step, Step::Create(path) if is_picture(path));
        if picture && self.armed.swap(false, Ordering::SeqCst) {
            self.paused.store(true, Ordering::SeqCst);
            for _ in 0..100 {
                if self.other_done.load(Ordering::SeqCst) {
                    break;
                }
                std::thread::sleep(Duration::from_millis(10));
            }
        }
        Ok(())
    }
}

fn is_let_go(notice: &Notice) -> bool {
    matches!(notice, Notice::Unfinished { problem } if problem.code == "carry-let-go")
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_that_come_before_the_log_wait_for_it() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let new = desk.add_pupil("Robin");
    let pages = [1, 2, 3].map(|number| desk.invent_page(new, number, 150_000));
    let mut files = desk.files(new, None, Some(200_000));
    assert!(files.len() >= 3, "{}", files.len());
    let first = files.remove(0);
    for file in files.iter().rev() {
        let opened = bag.opens(file).unwrap();
        assert!(opened.waits, "told as taken: {opened:?}");
    }
    let opened = bag.opens(&first).unwrap();
    assert!(!opened.waits);
    assert_eq!(opened.new_blobs, 6, "what waited came with it");
    assert!(pages.iter().all(|page| bag.has_picture(new, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_that_wait_outlast_the_founding_that_they_bring() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.invent_page(wren, 9, 2_000);
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let pages = [1, 2, 3].map(|number| desk.invent_page(wren, number, 150_000));
    let other = [4, 5].map(|number| desk.invent_page(robin, number, 150_000));
    desk.app.shorten_history(OfPupil { pupil: wren }).unwrap();
    let mut files = desk.files(wren, None, Some(200_000));
    let mut others = desk.files(robin, None, Some(200_000));
    assert!(files.len() >= 3 && others.len() >= 2);
    let (first, first_other) = (files.remove(0), others.remove(0));
    for file in others.iter().chain(files.iter().rev()) {
        assert!(bag.opens(file).unwrap().waits);
    }
    // It brings the log and the new books: what is of the old ones goes, but nothing that waited.
    assert!(!bag.opens(&first).unwrap().waits);
    assert!(pages.iter().all(|page| bag.has_picture(wren, *page)));
    assert!(!bag.opens(&first_other).unwrap().waits);
    assert_eq!(bag.notices(), [], "nothing went unread");
    assert!(other.iter().all(|page| bag.has_picture(robin, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn files_that_wait_and_may_hold_what_was_forgotten_go() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let pages = [1, 2].map(|number| desk.invent_page(pupil, number, 150_000));
    let mut files = desk.files(pupil, None, Some(200_000));
    files.remove(0);
    assert!(bag.opens(&files[0]).unwrap().waits);
    let forget = ForgetPages {
        pupil,
        pages: pages.to_vec(),
    };
    desk.app.forget_pages(forget).unwrap();
    for file in desk.files(pupil, None, None) {
        bag.opens(&file).unwrap();
    }
    let (_, blobs) = look(bag, |store| store.blobs().unwrap().len());
    assert_eq!(blobs, 0, "the file of before is gone");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_that_is_let_go_before_all_of_it_was_taken_is_told() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let stays = desk.invent_page(pupil, 1, 350_000);
    let files = desk.files(pupil, None, Some(200_000));
    let goes = desk.invent_page(pupil, 2, 2_000);
    for file in &files[1..] {
        assert!(bag.opens(file).unwrap().waits);
    }
    // Of the picture of a page that stays the end is here, and waits for its beginning.
    let pages = vec![goes];
    desk.app.forget_pages(ForgetPages { pupil, pages }).unwrap();
    hand_over(&desk, &bag, |_| true);
    assert!(!bag.has_picture(pupil, stays));
    let told = bag.notices();
    assert!(told.len() == 1 && is_let_go(&told[0]), "{told:?}");
    for file in desk.files(pupil, None, None) {
        bag.opens(&file).unwrap();
    }
    assert!(bag.has_picture(pupil, stays));
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_that_wait_outlast_a_removal_that_cuts_something_off() {
    let (desk, bag, phone, pupil) = Device::practice("Bag", "Kitchen").await;
    bag.meets().await;
    for device in [&desk, &bag, &phone] {
        device.app.close().await;
    }
    phone.invent_page(pupil, 9, 2_000);
    hand_over(&phone, &bag, |_| true);
    let pages = [1, 2, 3].map(|number| desk.invent_page(pupil, number, 150_000));
    let mut files = desk.files(pupil, Some(bag.id()), Some(200_000));
    let first = files.remove(0);
    for file in &files {
        assert!(bag.opens(file).unwrap().waits);
    }
    // The removal knows nothing of the phone's page; no books were ever founded anew.
    let device = phone.id();
    desk.app.remove_device(OfDevice { device }).unwrap();
    hand_over(&desk, &bag, DocId::is_log);
    let told = bag.notices();
    assert!(told.iter().any(|it| matches!(it, Notice::CutOff { .. })));
    assert!(!told.iter().any(is_let_go), "{told:?}");
    assert!(!bag.opens(&first).unwrap().waits);
    assert!(pages.iter().all(|page| bag.has_picture(pupil, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn of_two_files_that_come_at_the_same_time_both_wait() {
    let disk = Arc::new(Pausing::default());
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let bag = bag.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
    let new = desk.add_pupil("Robin");
    let pages = [1, 2, 3].map(|number| desk.invent_page(new, number, 150_000));
    let mut files = desk.files(new, None, Some(200_000));
    assert!(files.len() >= 3, "{}", files.len());
    let first = files.remove(0);
    disk.armed.store(true, Ordering::SeqCst);
    std::thread::scope(|scope| {
        let one = scope.spawn(|| bag.opens(&files[0]).unwrap());
        while !disk.paused.load(Ordering::SeqCst) {
            std::thread::sleep(Duration::from_millis(1));
        }
        for file in &files[1..] {
            assert!(bag.opens(file).unwrap().waits);
        }
        disk.other_done.store(true, Ordering::SeqCst);
        assert!(one.join().unwrap().waits);
    });
    assert!(!bag.opens(&first).unwrap().waits);
    assert!(pages.iter().all(|page| bag.has_picture(new, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_disk_costs_no_file_that_waits() {
    let disk = Filling::empty();
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let bag = bag.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
    let pages = [1, 2].map(|number| desk.invent_page(pupil, number, 150_000));
    let mut files = desk.files(pupil, None, Some(120_000));
    let first = files.remove(0);
    for file in &files {
        assert!(bag.opens(file).unwrap().waits);
    }
    // There is room for both readings, which come with the changes, but not for a picture that waits.
    disk.pictures.store(2, Ordering::SeqCst);
    let full = bag.opens(&first).unwrap_err();
    assert_eq!(full.code, "disk-full");
    assert!(pages.iter().all(|page| !bag.has_picture(pupil, *page)));
    assert_eq!(bag.pages(pupil).len(), 2, "the first file itself was taken");
    disk.pictures.store(1_000, Ordering::SeqCst);
    assert!(!bag.opens(&first).unwrap().waits);
    assert!(pages.iter().all(|page| bag.has_picture(pupil, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn no_file_is_larger_than_one_that_can_wait() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupil = desk.add_pupil("Wren");
    desk.own(&bag).await;
    desk.app.close().await;
    bag.app.close().await;
    let pages = [1, 2].map(|number| desk.invent_page(pupil, number, 25 << 20));
    let files = desk.files(pupil, None, Some(64 << 20));
    let longest = files.iter().map(|file| file.base64.len() / 4 * 3).max();
    assert!(longest.unwrap() <= store::MAX_BLOB_BYTES + 2);
    for file in files.iter().rev() {
        bag.opens(file).unwrap();
    }
    assert!(pages.iter().all(|page| bag.has_picture(pupil, *page)));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_meeting_is_no_proof_that_a_picture_arrived_which_is_not_here() {
    let (desk, mum, dad) = (
        Device::tutor("Study"),
        Device::parent("Mum"),
        Device::parent("Dad"),
    );
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &mum).await;
    desk.family(pupil, &dad).await;
    mum.meets().await;
    mum.app.close().await;
    let (record, blobs) = invented(1, 150_000);
    let kept = mum.app.keep_measured_page(pupil, record, blobs);
    let page = kept.unwrap().page;
    let files = mum.files(pupil, Some(desk.id()), Some(70_000));
    // The page is known at the desk, its picture is yet to come: and so Dad meets the desk.
    desk.opens(&files[0]).unwrap();
    assert!(!desk.has_picture(pupil, page));
    dad.meets().await;
    assert!(dad.pages(pupil).contains(&page) && !dad.has_picture(pupil, page));
    for file in &files[1..] {
        desk.opens(file).unwrap();
    }
    assert!(desk.has_picture(pupil, page));
    desk.app.close().await;
    dad.app.close().await;
    let held = desk.app.holds(OfDevice { device: dad.id() }).unwrap();
    assert_eq!((held.pupils[0].pages, held.pupils[0].of), (0, 1));
    for file in desk.files(pupil, Some(dad.id()), None) {
        dad.opens(&file).unwrap();
    }
    assert!(dad.has_picture(pupil, page));
}
