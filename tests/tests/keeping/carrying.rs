//! Carry files between devices that never meet again after they were paired.

use app::api::*;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;

use crate::people::Device;

fn made(device: &Device, pupil: app::units::PupilId) -> Vec<CarryFile> {
    let carry = MakeCarry {
        pupil,
        to: None,
        part_bytes: None,
    };
    device.app.make_carry(carry).unwrap().files
}

fn opened(device: &Device, file: &CarryFile) -> CarryOpened {
    let base64 = file.base64.clone();
    device.app.open_carry(OpenCarry { base64 }).unwrap()
}

fn size(files: &[CarryFile]) -> usize {
    files
        .iter()
        .map(|file| BASE64_STANDARD.decode(&file.base64).unwrap().len())
        .sum()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_week_goes_both_ways_by_file_and_a_repeat_changes_nothing() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    desk.app.close().await;
    phone.app.close().await;
    let page = phone.keep_page(pupil, 0);
    let files = made(&phone, pupil);
    assert_eq!(files.len(), 1);
    assert!(files[0].name.ends_with(".pothook-post"));
    let first = opened(&desk, &files[0]);
    assert_eq!(
        (first.new_blobs, first.refused_changes, first.waits),
        (2, 0, false)
    );
    assert!(first.new_changes >= 1);
    assert_eq!(desk.pages(pupil), [page]);
    assert_eq!(desk.picture(pupil, page), phone.picture(pupil, page));
    let again = opened(&desk, &files[0]);
    assert_eq!((again.new_blobs, again.new_changes), (0, 0));
    // The tutor answers; the file carries the acknowledgement, so the next one from the phone is small.
    desk.app.look(OfPage { pupil, page }).unwrap();
    let answer = made(&desk, pupil);
    assert!(size(&answer) < 4_000, "{}", size(&answer));
    let back = opened(&phone, &answer[0]);
    assert!(back.new_changes >= 1);
    let next = made(&phone, pupil);
    assert!(size(&next) < 2_000, "{} for nothing new", size(&next));
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_come_in_any_order_and_a_lost_one_is_made_good_by_the_next_file() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let pages: Vec<_> = (0..3).map(|which| phone.keep_page(pupil, which)).collect();
    let carry = MakeCarry {
        pupil,
        to: None,
        part_bytes: Some(200_000),
    };
    let mut files = phone.app.make_carry(carry).unwrap().files;
    assert!(files.len() >= 3, "{}", files.len());
    let lost = files.remove(0);
    files.reverse();
    for file in &files {
        opened(&desk, file);
    }
    opened(&desk, &lost);
    for file in &files {
        opened(&desk, file);
    }
    let mut here = desk.pages(pupil);
    here.sort();
    let mut wanted = pages.clone();
    wanted.sort();
    assert_eq!(here, wanted);
    assert!(
        pages
            .iter()
            .all(|page| desk.picture(pupil, *page) == phone.picture(pupil, *page))
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_is_for_those_it_was_made_for_and_from_those_who_belong() {
    let (desk, phone, other) = (
        Device::tutor("Study"),
        Device::parent("Kitchen"),
        Device::parent("Other"),
    );
    let (pupil, another) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.family(pupil, &phone).await;
    desk.family(another, &other).await;
    phone.keep_page(pupil, 0);
    let files = made(&phone, pupil);
    let base64 = files[0].base64.clone();
    let refused = other.app.open_carry(OpenCarry { base64 }).unwrap_err();
    assert_eq!(refused.code, "carry-not-for-us");
    // Of a device that was removed nothing is taken, however well it is signed.
    let device = desk
        .app
        .devices(Nothing {})
        .unwrap()
        .devices
        .into_iter()
        .find(|row| row.name == "Kitchen")
        .unwrap()
        .device;
    desk.app.remove_device(OfDevice { device }).unwrap();
    let base64 = files[0].base64.clone();
    let refused = desk.app.open_carry(OpenCarry { base64 }).unwrap_err();
    assert_eq!(refused.code, "carry-stranger");
    assert!(desk.pages(pupil).is_empty());
    let mut damaged = BASE64_STANDARD.decode(&files[0].base64).unwrap();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    let base64 = BASE64_STANDARD.encode(damaged);
    let refused = desk.app.open_carry(OpenCarry { base64 }).unwrap_err();
    assert!(refused.code.starts_with("carry-"), "{}", refused.code);
    let base64 = BASE64_STANDARD.encode(b"holiday.jpg");
    let refused = desk.app.open_carry(OpenCarry { base64 }).unwrap_err();
    assert_eq!(refused.code, "not-a-carry-file");
}
