//! What a meeting of two devices costs, with the program's own books on both sides.

use app::api::*;
use app::units::{MarkShape, Mm, PageId, PointMm, PupilId};
use sync::Limits;
use sync::memory::{self, Faults};

use crate::people::{Device, invented};

/// Lets two devices meet until neither has more for the other. Gives the bytes that went both ways, before
/// encryption.
async fn meets(caller: &Device, called: &Device) -> u64 {
    let (limits, faults) = (Limits::default(), Faults::default());
    let mut bytes = 0;
    for _ in 0..8 {
        let sides = memory::meet(
            (caller.id(), caller.app.host()),
            (called.id(), called.app.host()),
            &limits,
            &faults,
        );
        let (one, other) = sides.await;
        let (one, other) = (one.unwrap(), other.unwrap());
        assert_eq!(one.bytes, other.bytes);
        assert_eq!((one.refused_changes, other.refused_changes), (0, 0));
        bytes += one.bytes;
        if !one.more && !other.more {
            return bytes;
        }
    }
    panic!("they never come to an end");
}

/// Bytes of the changes that one device has and the other lacks.
fn news(from: &Device, to: &Device) -> u64 {
    let (giving, taking) = (from.app.host(), to.app.host());
    let here = taking.have(from.id()).unwrap();
    let lacking = |(name, _): (Vec<u8>, u64)| {
        let known = here.iter().find(|(known, _)| *known == name);
        let known = known.map_or(0, |(_, count)| *count);
        giving.changes(to.id(), &name, known).unwrap()
    };
    let named = giving.have(to.id()).unwrap().into_iter();
    named.flat_map(lacking).map(|it| it.len() as u64).sum()
}

fn marks(desk: &Device, pupil: PupilId, page: PageId) {
    for number in 1..=12 {
        let (x, y) = (Mm(f64::from(number) * 10.0), Mm(40.0));
        let mark = AddMark {
            pupil,
            page,
            shape: MarkShape::Note {
                at: PointMm { x, y },
            },
            words: format!("the {number}th letter stands well on the line"),
            aspect: None,
            praise: true,
        };
        desk.app.add_mark(mark).unwrap();
    }
}

/// At most 3 % and 4 KB more than what is to be said.
fn is_lean(bytes: u64, own: u64) {
    assert!(bytes >= own, "{bytes} bytes for {own}: not all was counted");
    let most = own * 103 / 100 + 4_000;
    assert!(bytes <= most, "{bytes} bytes for {own}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_week_costs_little_more_than_its_bytes_and_nothing_new_next_to_none() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.add_pupil("Robin");
    desk.family(pupil, &phone).await;
    let mut last = phone.invent_page(pupil, 1, 20_000);
    phone.meets().await;
    for device in [&desk, &phone] {
        device.app.close().await;
    }
    meets(&phone, &desk).await;
    for week in 2..5 {
        for (caller, called) in [(&phone, &desk), (&desk, &phone)] {
            let bytes = meets(caller, called).await;
            assert!(bytes <= 1_000, "{bytes} bytes for nothing new");
        }
        // This week's page, and marks on that of last week.
        let (page, blobs) = invented(week, 1_200_000);
        let blob_bytes: usize = blobs.iter().map(Vec::len).sum();
        let kept = phone.app.keep_measured_page(pupil, page, blobs);
        marks(&desk, pupil, last);
        last = kept.unwrap().page;
        let changes = news(&phone, &desk) + news(&desk, &phone);
        let own = blob_bytes as u64 + changes;
        assert!(own > 1_200_000, "{own}");
        is_lean(meets(&phone, &desk).await, own);
        assert!(desk.has_picture(pupil, last));
        let bytes = meets(&phone, &desk).await;
        assert!(bytes <= 1_000, "{bytes} bytes for nothing new");
    }
    // Marks alone, beside which no picture hides anything.
    marks(&desk, pupil, last);
    let own = news(&desk, &phone);
    is_lean(meets(&phone, &desk).await, own);
    assert_eq!(news(&desk, &phone), 0);
}
