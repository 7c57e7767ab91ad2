//! What comes first: small things before large ones, the newest before the older.

use std::collections::BTreeMap;

use app::api::*;
use app::units::{BlobId, Day, PageId, PupilId};

use crate::inside::hand_over;
use crate::people::{Device, invented, name_of};

const YESTERDAY: Day = Day(20_000);
const TODAY: Day = Day(20_001);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Reading,
    Picture,
}

/// Keeps a page of a day, and notes what its blobs are.
fn keeps(
    device: &Device,
    pupil: PupilId,
    (number, day): (u32, Day),
    known: &mut BTreeMap<BlobId, (Kind, Day)>,
) -> PageId {
    let (mut record, blobs) = invented(number, 100_000);
    record.written_on = day;
    for (blob, kind) in blobs.iter().zip([Kind::Picture, Kind::Reading]) {
        known.insert(name_of(blob), (kind, day));
    }
    let kept = device.app.keep_measured_page(pupil, record, blobs);
    kept.unwrap().page
}

#[tokio::test(flavor = "multi_thread")]
async fn readings_are_asked_for_before_pictures_and_those_of_the_newest_pages_first() {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let pupils = [desk.add_pupil("Wren"), desk.add_pupil("Robin")];
    desk.own(&bag).await;
    bag.app.close().await;
    let mut known = BTreeMap::new();
    // Neither in the order of days nor pupil by pupil.
    let order = [
        (0, TODAY),
        (1, YESTERDAY),
        (0, YESTERDAY),
        (1, TODAY),
        (1, YESTERDAY),
        (0, TODAY),
    ];
    for (number, (whose, day)) in (10..).zip(order) {
        keeps(&bag, pupils[whose], (number, day), &mut known);
    }
    hand_over(&bag, &desk, |_| true);
    let wanted = desk.app.host().wants(bag.id()).unwrap();
    let asked: Vec<_> = wanted.iter().map(|wanted| known[&wanted.id]).collect();
    let each = |kind, day| [(kind, day); 3];
    let due = [
        each(Kind::Reading, TODAY),
        each(Kind::Reading, YESTERDAY),
        each(Kind::Picture, TODAY),
        each(Kind::Picture, YESTERDAY),
    ];
    assert_eq!(asked, due.concat());
}

#[tokio::test(flavor = "multi_thread")]
async fn carry_files_bring_the_readings_first_and_then_the_newest_pictures() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    phone.app.close().await;
    let mut known = BTreeMap::new();
    let days = [TODAY, YESTERDAY, Day(TODAY.0 + 1)];
    let pages: Vec<PageId> = (10..)
        .zip(days)
        .map(|at| keeps(&phone, pupil, at, &mut known))
        .collect();
    let files = phone.files(pupil, None, Some(150_000));
    assert!(files.len() >= 3, "{}", files.len());
    let here = |page: &PageId| {
        let page = *page;
        let view = desk.app.page(OfPage { pupil, page });
        view.is_ok_and(|view| view.picture_here)
    };
    let mut came: Vec<PageId> = Vec::new();
    for (at, file) in files.iter().enumerate() {
        desk.opens(file).unwrap();
        if at == 0 {
            let read = |page: &PageId| {
                let page = *page;
                let view = desk.app.page(OfPage { pupil, page }).unwrap();
                view.reading.is_some()
            };
            assert!(pages.iter().all(read), "all readings are in the first");
        }
        let new = pages
            .iter()
            .filter(|page| here(page) && !came.contains(page));
        let mut new: Vec<PageId> = new.copied().collect();
        new.sort_by_key(|page| std::cmp::Reverse(desk.record(pupil, *page).written_on));
        came.extend(new);
    }
    assert_eq!(came, [pages[2], pages[0], pages[1]]);
}
