//! What is known of photographs that are not kept, and how they go.

use app::api::*;
use app::units::{Day, PupilId};
use store::MAX_BLOB_BYTES;

use crate::inside::look;
use crate::people::{Device, holds};
use crate::photographs::{middle, of, photo};

const WAITS: &str = "photo/waits/";

impl Device {
    fn takes_of(&self, pupil: PupilId, which: usize, day: &str) -> String {
        let mut taken = of(pupil);
        taken.about.written_on = Some(day.parse().unwrap());
        self.app.stage_photo(&photo(which), taken).unwrap().handle
    }

    fn listed(&self, pupil: PupilId) -> u32 {
        let list = self.app.pupils(Nothing {}).unwrap().pupils;
        let row = list.iter().find(|row| row.pupil == pupil);
        row.unwrap().photos_waiting
    }
}

#[test]
fn a_school_year_takes_along_what_waits_of_it_and_the_list_says_how_many_wait() {
    let desk = Device::tutor("Study");
    let (pupil, other) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    assert_eq!(desk.listed(pupil), 0);
    let goes = desk.takes_of(pupil, 0, "2026-07-20");
    let stays = desk.takes_of(pupil, 1, "2026-07-21");
    let others = desk.takes_of(other, 2, "2026-07-20");
    assert_eq!((desk.listed(pupil), desk.listed(other)), (2, 1));

    let day: Day = "2026-07-21".parse().unwrap();
    desk.app.forget_before(ForgetBefore { pupil, day }).unwrap();
    assert_eq!(desk.waiting(pupil), [&*stays]);
    assert_eq!(desk.waiting(other), [others]);
    assert_eq!((desk.listed(pupil), desk.listed(other)), (1, 1));
    assert!(desk.app.staged_photo(&goes).is_none());
    assert!(desk.app.small_staged_photo(&goes).is_none());
    let everything = desk.everything();
    assert!(!holds(&everything, middle(&photo(0))));
    assert!(holds(&everything, middle(&photo(1))) && holds(&everything, middle(&photo(2))));
    desk.drops(&stays);
    assert_eq!(desk.listed(pupil), 0);
}

#[test]
fn a_record_that_cannot_be_read_stops_nobody_and_goes_with_its_pupil() {
    let desk = Device::tutor("Study");
    let (goes, stays) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let handles = [desk.stages(goes, 0).handle, desk.stages(stays, 1).handle];
    // As a newer version would write it.
    let (desk, _) = look(desk, |store| {
        for name in store.settings_under(WAITS).unwrap() {
            store.set_setting(&name, br#"{"format":2}"#).unwrap();
        }
    });
    assert!(desk.waiting(goes).is_empty() && desk.waiting(stays).is_empty());
    assert_eq!(desk.listed(stays), 0);
    let handle = handles[1].clone();
    let gone = desk.app.look_again(OfStaged { handle });
    assert_eq!(gone.unwrap_err().code, "photo-gone");
    for _ in 0..4 {
        desk.stages(stays, 2);
    }

    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    let everything = desk.everything();
    assert!(!holds(&everything, middle(&photo(0))));
    assert!(holds(&everything, middle(&photo(1))));
    let (desk, names) = look(desk, |store| store.settings_under("").unwrap());
    assert!(!names.iter().any(|name| name.starts_with("device/sweep")));
    assert!(!names.iter().any(|name| name.contains(&goes.to_string())));
    desk.drops(&handles[1]);
    assert!(!holds(&desk.everything(), middle(&photo(1))));
}

#[test]
fn one_that_a_first_trial_version_took_is_kept_like_any_other() {
    let desk = Device::tutor("Study");
    let (pupil, goes) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    let sound = desk.stages(pupil, 0).handle;
    let lost = desk.stages(pupil, 1).handle;
    // Its names held the handle alone.
    let (desk, _) = look(desk, |store| {
        for name in store.settings_under(WAITS).unwrap() {
            let before = name.split('/').take(3).collect::<Vec<_>>().join("/");
            let mut bytes = store.setting(&name).unwrap().unwrap();
            if before.ends_with(&lost) {
                bytes.truncate(20);
            }
            store.remove_setting(&name).unwrap();
            store.set_setting(&before, &bytes).unwrap();
        }
    });
    assert_eq!(desk.waiting(pupil), [&*sound]);
    let handle = sound.clone();
    let staged = desk.app.look_again(OfStaged { handle }).unwrap();
    let corners = SetCorners {
        handle: sound.clone(),
        corners: staged.corners,
    };
    desk.app.set_corners(corners).unwrap();
    let desk = desk.restarted();
    // The disk is cleaned: nobody can say any more whose the other one is.
    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    let everything = desk.everything();
    assert!(holds(&everything, middle(&photo(0))));
    assert!(!holds(&everything, middle(&photo(1))));
    let (desk, names) = look(desk, |store| store.settings_under(WAITS).unwrap());
    assert_eq!(names, [format!("{WAITS}{sound}")]);
    desk.keeps(&sound).unwrap();
    let (_, names) = look(desk, |store| store.settings_under(WAITS).unwrap());
    assert!(names.is_empty());
}

#[test]
fn a_list_shows_a_small_picture_while_the_photograph_waits() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let handle = desk.stages(pupil, 0).handle;
    let small = |desk: &Device| desk.app.small_staged_photo(&handle);
    let first = small(&desk).unwrap();
    let picture = image::load_from_memory(&first).unwrap();
    assert_eq!(picture.width().max(picture.height()), 240);
    let whole = image::load_from_memory(&photo(0)).unwrap();
    let proportion = |it: &image::DynamicImage| f64::from(it.width()) / f64::from(it.height());
    assert!((proportion(&picture) - proportion(&whole)).abs() < 0.01);
    let desk = desk.restarted();
    assert_eq!(small(&desk), Some(first));
    desk.drops(&handle);
    assert_eq!(small(&desk), None);
    assert_eq!(desk.app.small_staged_photo("small"), None);
}

/// A photograph of so many bytes, all of which its pixels could need: quantisation tables are said again and
/// again (ITU-T T.81, B.2.4.1).
fn of_length(length: usize) -> Vec<u8> {
    let photo = metrics::bare(&photo(0)).unwrap();
    let tables = |number: u8| {
        let size = 2 + u16::from(number) * 65;
        let table = [&[0][..], &[1; 64]].concat();
        [
            &[0xFF, 0xDB][..],
            &size.to_be_bytes(),
            &table.repeat(number.into()),
        ]
        .concat()
    };
    let (one, two) = (tables(1), tables(2));
    // Two in one are four bytes less.
    let room = length - photo.len();
    let mut singles = room.div_ceil(one.len());
    while !(singles * one.len() - room).is_multiple_of(4) {
        singles += 1;
    }
    let doubles = (singles * one.len() - room) / 4;
    let said = [one.repeat(singles - 2 * doubles), two.repeat(doubles)].concat();
    [&photo[..2], &said, &photo[2..]].concat()
}

#[test]
fn the_largest_photographs_are_refused_as_too_large_and_leave_nothing() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    // Sixteen bytes stand before it.
    let most = MAX_BLOB_BYTES - 16;
    for (length, taken) in [(most, true), (most + 1, false)] {
        let bytes = of_length(length);
        assert_eq!(bytes.len(), length);
        let answer = desk.app.stage_photo(&bytes, of(pupil));
        match taken {
            true => desk.drops(&answer.unwrap().handle),
            false => assert_eq!(answer.unwrap_err().code, "photo-too-large"),
        }
    }
    assert!(desk.waiting(pupil).is_empty());
}
