//! Photographs that wait to be kept: they outlast the program, stay on the device that took them, and go when
//! they are kept, dropped, or their pupil is erased.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use app::api::*;
use app::units::{BlobId, Measure, PageId, PupilId, TaskKind};
use pothook_tests::KnownPage;
use store::{Disk, Step};
use sync::Wanted;

use crate::inside::look;
use crate::people::{Device, holds};

/// Where the photograph was taken, as a camera would write it.
const PLACE: &[u8] = b"51.4779 N 0.0015 W";

/// The photograph of one of the known pages, with a comment in it (ITU-T T.81, B.2.4.5).
pub fn photo(which: usize) -> Vec<u8> {
    let page = &KnownPage::all()[which];
    let photo = std::fs::read(pothook_tests::pages().join(&page.image)).unwrap();
    let length = (PLACE.len() as u16 + 2).to_be_bytes();
    let comment = [&[0xFF, 0xFE][..], &length, PLACE].concat();
    [&photo[..2], &comment, &photo[2..]].concat()
}

pub fn of(pupil: PupilId) -> TakenPhoto {
    let about = StagePhoto {
        pupil,
        task: None,
        kind: Some(TaskKind::Copied),
        written_on: Some("2026-03-02".parse().unwrap()),
    };
    about.into()
}

/// Bytes that no other picture has: JPEGs begin alike.
pub fn middle(picture: &[u8]) -> &[u8] {
    let at = picture.len() / 2;
    &picture[at..at + 64]
}

fn inwards(corners: [Corner; 4]) -> [Corner; 4] {
    let inwards = |share: f64| share + (0.5 - share) * 0.02;
    corners.map(|Corner { x, y }| Corner {
        x: inwards(x),
        y: inwards(y),
    })
}

impl Device {
    pub fn stages(&self, pupil: PupilId, which: usize) -> Staged {
        self.app.stage_photo(&photo(which), of(pupil)).unwrap()
    }

    pub fn waiting(&self, pupil: PupilId) -> Vec<String> {
        let waiting = self.app.waiting_photos(OfPupil { pupil }).unwrap();
        waiting.photos.into_iter().map(|it| it.handle).collect()
    }

    pub fn keeps(&self, handle: &str) -> Result<PageId, app::units::Problem> {
        let handle = handle.to_owned();
        let despite = true;
        let kept = self.app.keep_page(KeepPage { handle, despite })?;
        Ok(kept.page)
    }

    pub fn drops(&self, handle: &str) {
        let handle = handle.to_owned();
        self.app.drop_photo(OfStaged { handle }).unwrap();
    }

    fn measures(&self, pupil: PupilId, page: PageId) -> Vec<Measure> {
        self.record(pupil, page).readings[0].measures.clone()
    }
}

#[test]
fn a_photograph_waits_through_restarts_as_it_was_and_is_kept_once() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let found = desk.stages(pupil, 0);
    let by_hand = SetCorners {
        handle: found.handle.clone(),
        corners: found.corners.map(inwards),
    };
    let staged = desk.app.set_corners(by_hand.clone()).unwrap();
    assert_ne!(staged.corners, found.corners);
    let handle = &staged.handle;
    let seen = |desk: &Device| {
        let of = OfStaged {
            handle: handle.clone(),
        };
        let staged = desk.app.look_again(of).unwrap();
        let picture = desk.app.staged_picture(handle).unwrap();
        (staged, picture, desk.app.staged_photo(handle).unwrap())
    };
    let before = seen(&desk);
    assert_eq!(before.0, staged);
    let listed = desk.app.waiting_photos(OfPupil { pupil }).unwrap();
    assert_eq!(listed.photos[0].written_on, "2026-03-02".parse().unwrap());

    let desk = desk.restarted().restarted();
    assert_eq!(desk.app.waiting_photos(OfPupil { pupil }).unwrap(), listed);
    let after = seen(&desk);
    assert_eq!(after.0, before.0);
    assert!(after == before, "the pictures are others");
    let everything = desk.everything();
    assert!(holds(&everything, middle(&photo(0))) && !holds(&everything, PLACE));
    let page = desk.keeps(handle).unwrap();
    assert_eq!(desk.keeps(handle).unwrap_err().code, "photo-gone");
    assert!(desk.waiting(pupil).is_empty());

    // The same photograph, kept without a restart, gives the same figures.
    let again = desk.stages(pupil, 0);
    let corners = SetCorners {
        handle: again.handle.clone(),
        ..by_hand
    };
    desk.app.set_corners(corners).unwrap();
    let other = desk.keeps(&again.handle).unwrap();
    assert_eq!(desk.measures(pupil, page), desk.measures(pupil, other));
    assert_eq!(desk.record(pupil, page).kind, TaskKind::Copied);
    assert!(!holds(&desk.everything(), middle(&photo(0))));
}

#[test]
fn a_few_may_wait_and_none_makes_room_for_another_unasked() {
    let desk = Device::tutor("Study");
    let pupils = [desk.add_pupil("Wren"), desk.add_pupil("Robin")];
    let first: Vec<_> = (0..4)
        .map(|at| desk.stages(pupils[at % 2], 0).handle)
        .collect();
    let refused = desk.app.stage_photo(&photo(1), of(pupils[0])).unwrap_err();
    assert_eq!(refused.code, "enough-waiting");
    assert!(refused.message.contains("of Robin and Wren"), "{refused}");
    assert!(refused.message.starts_with("4 "), "{refused}");
    let desk = desk.restarted();
    assert_eq!(desk.waiting(pupils[0]), [&*first[0], &*first[2]]);
    assert_eq!(desk.waiting(pupils[1]), [&*first[1], &*first[3]]);

    // One that is no picture takes nobody's place.
    let instead = |bytes: &[u8], handle: &str| {
        let instead_of = Some(handle.to_owned());
        let taken = TakenPhoto {
            instead_of,
            ..of(pupils[0])
        };
        desk.app.stage_photo(bytes, taken)
    };
    instead(b"no picture", &first[0]).unwrap_err();
    assert_eq!(desk.waiting(pupils[0]).len(), 2);
    let better = instead(&photo(1), &first[0]).unwrap().handle;
    assert_eq!(desk.waiting(pupils[0]), [&*first[2], &*better]);
    assert!(desk.app.staged_photo(&first[0]).is_none());

    // The same bytes waited three more times: letting go of one leaves the others whole.
    desk.drops(&first[2]);
    desk.drops(&first[2]);
    let desk = desk.restarted();
    assert_eq!(desk.waiting(pupils[0]), [&*better]);
    assert!(desk.app.staged_photo(&first[2]).is_none());
    desk.keeps(&first[1]).unwrap();
    assert!(desk.app.staged_photo(&first[3]).is_some());
    desk.stages(pupils[0], 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn one_that_waits_stays_on_its_device_and_goes_with_its_pupil() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let (goes, stays) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.family(goes, &phone).await;
    desk.family(stays, &phone).await;
    let (lost, left) = (phone.stages(goes, 0), phone.stages(stays, 1));
    phone.meets().await;
    assert!(desk.pages(goes).is_empty() && desk.waiting(goes).is_empty());
    assert!(!holds(&desk.everything(), middle(&photo(0))));
    let mut zip = io::Cursor::new(Vec::new());
    phone.app.export_pupil(goes, &mut zip).unwrap();
    assert!(!holds(zip.get_ref(), middle(&photo(0))));

    // Whoever knows its name among the blobs gets nothing by it, and no address of a picture leads to it.
    phone.app.close().await;
    let (phone, blobs) = look(phone, |store| store.blobs().unwrap());
    assert_eq!(blobs.len(), 2);
    for BlobId(id) in blobs {
        let id = BlobId(id);
        let wanted = Wanted { scope: goes.0, id };
        assert_eq!(phone.app.host().blob(desk.id(), wanted).unwrap(), None);
        assert_eq!(phone.app.picture(id).unwrap(), None);
    }
    for file in phone.files(goes, None, None) {
        desk.opens(&file).unwrap();
    }
    assert!(!holds(&desk.everything(), middle(&photo(0))));

    // A page is forgotten: what waits is no leftover.
    let page = phone.invent_page(goes, 1, 2_000);
    phone.meets().await;
    let pages = vec![page];
    let forget = ForgetPages { pupil: goes, pages };
    desk.app.forget_pages(forget).unwrap();
    phone.meets().await;
    assert!(phone.pages(goes).is_empty());
    assert!(phone.app.staged_photo(&lost.handle).is_some());

    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    phone.meets().await;
    assert!(phone.app.staged_picture(&lost.handle).is_none());
    assert!(phone.app.stage_photo(&photo(0), of(goes)).is_err());
    let everything = phone.everything();
    assert!(!holds(&everything, middle(&photo(0))));
    assert!(holds(&everything, middle(&photo(1))));
    assert_eq!(phone.waiting(stays), [left.handle]);
}

/// The power goes before a step that is to last.
struct Cut {
    left: AtomicUsize,
}

impl Cut {
    fn after(steps: usize) -> Arc<Self> {
        let left = AtomicUsize::new(steps);
        Arc::new(Self { left })
    }
}

impl Disk for Cut {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        if let Step::MakeFolder(_) = step {
            return Ok(());
        }
        let one_less = |left: usize| left.checked_sub(1);
        let left = &self.left;
        match left.fetch_update(Ordering::SeqCst, Ordering::SeqCst, one_less) {
            Ok(_) => Ok(()),
            Err(_) => Err(io::Error::other("the power goes")),
        }
    }
}

#[test]
fn wherever_the_power_goes_a_photograph_waits_or_is_kept_and_never_both() {
    let mut desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let mut cuts = [0, 0];
    loop {
        desk = desk.restarted_on(Arc::new(()));
        assert!(desk.waiting(pupil).is_empty());
        let disk = Cut::after(usize::MAX);
        desk = desk.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
        disk.left.store(cuts[0], Ordering::SeqCst);
        let staged = desk.app.stage_photo(&photo(0), of(pupil));
        desk = desk.restarted_on(Arc::new(()));
        if let Ok(staged) = staged {
            assert_eq!(desk.waiting(pupil), [staged.handle]);
            break;
        }
        cuts[0] += 1;
    }
    loop {
        let [handle] = &desk.waiting(pupil)[..] else {
            panic!("it waits no more");
        };
        let handle = handle.clone();
        assert!(desk.pages(pupil).is_empty());
        let disk = Cut::after(usize::MAX);
        desk = desk.restarted_on(Arc::clone(&disk) as Arc<dyn Disk>);
        disk.left.store(cuts[1], Ordering::SeqCst);
        let kept = desk.keeps(&handle);
        desk = desk.restarted_on(Arc::new(()));
        if let Ok(page) = kept {
            assert_eq!(desk.pages(pupil), [page]);
            assert!(desk.waiting(pupil).is_empty() && desk.has_picture(pupil, page));
            break;
        }
        cuts[1] += 1;
    }
    println!("the power went before {cuts:?} steps");
    assert!(cuts.iter().all(|steps| *steps > 2), "{cuts:?}");
}
