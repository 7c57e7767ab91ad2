//! A photograph that is to take the place of another that waits.

use app::api::*;
use app::units::{PupilId, TaskKind};
use image::{DynamicImage, ImageFormat, RgbImage};

use crate::people::Device;
use crate::photographs::{of, photo};

fn jpeg(picture: &DynamicImage) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, ImageFormat::Jpeg).unwrap();
    bytes.into_inner()
}

/// A page from so far away that its letters cannot be read.
fn from_afar(which: usize) -> Vec<u8> {
    let page = image::load_from_memory(&photo(which)).unwrap();
    jpeg(&page.resize(560, 560, image::imageops::FilterType::Triangle))
}

/// A table without a page on it.
fn no_page() -> Vec<u8> {
    let table = RgbImage::from_pixel(640, 480, image::Rgb([90, 80, 70]));
    jpeg(&DynamicImage::ImageRgb8(table))
}

impl Device {
    fn takes_again(
        &self,
        pupil: PupilId,
        bytes: &[u8],
        handle: &str,
    ) -> Result<Staged, app::units::Problem> {
        let taken = TakenPhoto {
            instead_of: Some(handle.to_owned()),
            ..of(pupil)
        };
        self.app.stage_photo(bytes, taken)
    }

    fn takes(&self, pupil: PupilId, bytes: &[u8]) -> Staged {
        self.app.stage_photo(bytes, of(pupil)).unwrap()
    }
}

#[test]
fn a_photograph_gives_way_only_to_one_that_shows_the_page_as_well() {
    let (good, poor, none) = (photo(0), from_afar(0), no_page());
    let rank = |staged: &Staged| (staged.found, staged.fit);
    for (before, after, gives_way) in [
        (&good, &good, true),
        (&good, &poor, false),
        (&good, &none, false),
        (&poor, &good, true),
        (&poor, &poor, true),
        (&poor, &none, false),
        (&none, &good, true),
        (&none, &poor, true),
        (&none, &none, false),
    ] {
        let desk = Device::tutor("Study");
        let pupil = desk.add_pupil("Wren");
        let first = desk.takes(pupil, before);
        // What was seen in it is looked for again where the program has ended since.
        let desk = desk.restarted();
        let second = desk.takes_again(pupil, after, &first.handle).unwrap();
        let (handles, case) = (desk.waiting(pupil), (rank(&first), rank(&second)));
        assert_eq!(second.earlier_stays, !gives_way, "{case:?}");
        match gives_way {
            true => assert_eq!(handles, [second.handle], "{case:?}"),
            false => assert_eq!(handles, [first.handle, second.handle], "{case:?}"),
        }
    }
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let ranks = [good, poor, none].map(|bytes| rank(&desk.takes(pupil, &bytes)));
    assert_eq!(ranks, [(true, true), (true, false), (false, false)]);
}

#[test]
fn one_more_than_may_waits_rather_than_that_a_good_one_is_lost() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let mut handles: Vec<_> = (0..4)
        .map(|_| desk.takes(pupil, &photo(0)).handle)
        .collect();
    let worse = desk.takes_again(pupil, &no_page(), &handles[1]).unwrap();
    assert!(worse.earlier_stays);
    handles.push(worse.handle);
    assert_eq!(desk.waiting(pupil), &handles[..]);
    for handle in &handles {
        let refused = desk.takes_again(pupil, &no_page(), handle).unwrap_err();
        assert_eq!(refused.code, "enough-waiting");
        assert!(refused.message.starts_with("5 "), "{refused}");
    }
    assert_eq!(desk.waiting(pupil), &handles[..]);
    desk.drops(&handles.remove(4));
    let better = desk.takes_again(pupil, &photo(1), &handles[1]).unwrap();
    handles.remove(1);
    handles.push(better.handle);
    assert_eq!(desk.waiting(pupil), &handles[..]);
}

#[test]
fn a_photograph_taken_again_answers_what_the_first_one_did() {
    let desk = Device::tutor("Study");
    let (pupil, other) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let set = |text: &str| {
        let task = SetTask {
            pupil,
            kind: TaskKind::Dictated,
            text: Some(vec![text.to_owned()]),
            paper: None,
            ruling: None,
            minutes: 10,
            focus: None,
            set_on: None,
        };
        desk.app.set_task(task).unwrap().task
    };
    let (task, newer) = (set("the wind blows"), set("the rain falls"));
    let about = |task| StagePhoto {
        task: Some(task),
        ..of(pupil).about
    };
    let first = desk.app.stage_photo(&photo(0), about(task)).unwrap();
    let answers = |staged: &Staged| (staged.task, staged.kind, staged.written_on);
    let day = "2026-03-02".parse().unwrap();
    assert_eq!(answers(&first), (Some(task), TaskKind::Dictated, day));
    assert!(!first.earlier_stays);

    // Another pupil's photograph is no place to take.
    let refused = desk.takes_again(other, &photo(1), &first.handle);
    assert_eq!(refused.unwrap_err().code, "photo-of-another");
    assert_eq!(desk.waiting(pupil), [&*first.handle]);
    assert!(desk.waiting(other).is_empty());

    // What the screen says of the new one is about the page that is open there now.
    let taken = TakenPhoto {
        about: StagePhoto {
            written_on: None,
            ..about(newer)
        },
        instead_of: Some(first.handle.clone()),
    };
    let again = desk.app.stage_photo(&photo(1), taken.clone()).unwrap();
    assert_eq!(answers(&again), answers(&first));
    let handle = again.handle.clone();
    let looked = desk.app.look_again(OfStaged { handle }).unwrap();
    assert_eq!(looked, again);
    let listed = desk.app.waiting_photos(OfPupil { pupil }).unwrap().photos;
    let [one] = &listed[..] else {
        panic!("{listed:?}");
    };
    assert_eq!((one.task, one.kind), (Some(task), TaskKind::Dictated));
    let page = desk.record(pupil, desk.keeps(&again.handle).unwrap());
    assert_eq!((page.task, page.written_on), (Some(task), day));
    assert_eq!(page.text, Some(vec!["the wind blows".to_owned()]));

    // The first one is gone, so the next is a page like any other.
    let next = desk.app.stage_photo(&photo(1), taken).unwrap();
    assert_eq!(next.task, Some(newer));
}
