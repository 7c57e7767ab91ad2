//! What a device shows to whom, asked of the serving side: a device that asks may be any program, and need not
//! refuse what is not for it.

use app::api::*;
use app::units::{BlobId, DeviceId, PageId, PupilId};
use casefile::{BookKind, DocId};
use sync::Wanted;

use crate::inside::hand_over;
use crate::people::Device;

/// The documents that a device names to another.
fn named(serving: &Device, to: DeviceId) -> Vec<DocId> {
    let named = serving.app.host().have(to).unwrap().into_iter();
    named
        .map(|(name, _)| DocId::decode(&name).unwrap())
        .collect()
}

/// Those of some documents of which it hands out changes to whoever asks for them by name.
fn handed(serving: &Device, to: DeviceId, docs: &[DocId]) -> Vec<DocId> {
    let host = serving.app.host();
    let gives = |doc: &&DocId| !host.changes(to, &doc.encode(), 0).unwrap().is_empty();
    docs.iter().filter(gives).copied().collect()
}

fn picture_of(device: &Device, pupil: PupilId, page: PageId) -> BlobId {
    device.record(pupil, page).picture
}

/// Whether it hands out a blob within a pupil's books.
fn gives(serving: &Device, to: DeviceId, pupil: PupilId, id: BlobId) -> bool {
    let scope = pupil.0;
    let host = serving.app.host();
    host.blob(to, Wanted { scope, id }).unwrap().is_some()
}

/// The pupils of whom it asks something of another.
fn asked_of(serving: &Device, peer: DeviceId) -> Vec<PupilId> {
    let wants = serving.app.host().wants(peer).unwrap().into_iter();
    let mut pupils: Vec<_> = wants.map(|wanted| PupilId(wanted.scope)).collect();
    pupils.dedup();
    pupils
}

/// A laptop with two pupils, and with a second laptop: Wren has a phone, Robin another.
struct Practice {
    desk: Device,
    bag: Device,
    wrens: Device,
    robins: Device,
    wren: (PupilId, PageId),
    robin: (PupilId, PageId),
    /// Every document on the desk.
    docs: Vec<DocId>,
}

async fn practice() -> Practice {
    let (desk, bag) = (Device::tutor("Study"), Device::tutor("Bag"));
    let (wren, robin) = (desk.add_pupil("Wren"), desk.add_pupil("Robin"));
    desk.own(&bag).await;
    let (wrens, robins) = (Device::parent("Kitchen"), Device::parent("Landing"));
    desk.family(wren, &wrens).await;
    desk.family(robin, &robins).await;
    let wren = (wren, wrens.invent_page(wren, 1, 2_000));
    let robin = (robin, robins.invent_page(robin, 2, 2_000));
    for device in [&wrens, &robins] {
        device.meets().await;
    }
    let (pupil, note) = (robin.0, "a private word".to_owned());
    desk.app.set_note(SetNote { pupil, note }).unwrap();
    for device in [&bag, &wrens, &robins] {
        device.meets().await;
    }
    // One of the tutor's is shown everything, so what others are not shown is there.
    let docs = named(&desk, bag.id());
    assert_eq!(handed(&desk, bag.id(), &docs), docs);
    for book in [BookKind::Log, BookKind::Tutor, BookKind::Home] {
        for (pupil, _) in [wren, robin] {
            assert!(
                docs.iter()
                    .any(|doc| (doc.book, doc.pupil) == (book, pupil))
            );
        }
    }
    assert!(docs.iter().any(DocId::is_private));
    Practice {
        desk,
        bag,
        wrens,
        robins,
        wren,
        robin,
        docs,
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_familys_device_is_shown_its_own_pupil_alone_whatever_it_asks_for() {
    let all = practice().await;
    let (wren, robin) = (all.wren.0, all.robin.0);
    for (phone, mine, theirs) in [
        (&all.wrens, all.wren, all.robin),
        (&all.robins, all.robin, all.wren),
    ] {
        let its = all.docs.iter().filter(|doc| doc.pupil == mine.0);
        let its: Vec<DocId> = its.copied().collect();
        for serving in [&all.desk, &all.bag] {
            let mut shown = named(serving, phone.id());
            shown.sort_by_key(|doc| all.docs.iter().position(|known| known == doc));
            assert_eq!(shown, its);
            assert_eq!(handed(serving, phone.id(), &all.docs), its);
            let (my, their) = (picture_of(serving, mine.0, mine.1), theirs.0);
            let others = picture_of(serving, their, theirs.1);
            assert!(gives(serving, phone.id(), mine.0, my));
            for (pupil, id) in [(their, others), (mine.0, others), (their, my)] {
                assert!(!gives(serving, phone.id(), pupil, id));
            }
        }
    }
    // Nor is anything of the one asked of the other: by what is wanted it shows what there is.
    for (phone, pupil) in [(&all.wrens, wren), (&all.robins, robin)] {
        phone.app.close().await;
        phone.invent_page(pupil, 3, 2_000);
        hand_over(phone, &all.desk, |_| true);
    }
    assert_eq!(asked_of(&all.desk, all.wrens.id()), [wren]);
    assert_eq!(asked_of(&all.desk, all.robins.id()), [robin]);
    let mut both = [wren, robin];
    both.sort();
    let mut asked = asked_of(&all.desk, all.bag.id());
    asked.sort();
    asked.dedup();
    assert_eq!(asked, both);
    // And a stranger is shown nothing at all.
    let stranger = Device::parent("Stranger").id();
    for serving in [&all.desk, &all.wrens] {
        assert!(named(serving, stranger).is_empty());
        assert!(handed(serving, stranger, &all.docs).is_empty());
        assert!(asked_of(serving, stranger).is_empty());
        assert!(!serving.app.host().knows(stranger));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_that_was_removed_is_shown_nothing_by_anybody_who_has_heard_of_it() {
    let all = practice().await;
    let (pupil, page) = all.wren;
    let new = Device::parent("New phone");
    all.desk.family(pupil, &new).await;
    let lost = all.wrens.id();
    all.desk.invent_page(pupil, 4, 2_000);
    let device = lost;
    all.desk.app.remove_device(OfDevice { device }).unwrap();
    for heard in [&all.bag, &new] {
        heard.meets().await;
    }
    // Something is wanted, but not of that one.
    new.app.close().await;
    new.invent_page(pupil, 5, 2_000);
    hand_over(&new, &all.desk, |_| true);
    assert_eq!(asked_of(&all.desk, new.id()), [pupil]);
    for serving in [&all.desk, &all.bag, &new] {
        assert!(named(serving, lost).is_empty());
        assert!(handed(serving, lost, &all.docs).is_empty());
        assert!(asked_of(serving, lost).is_empty());
        let picture = picture_of(serving, pupil, page);
        assert!(!gives(serving, lost, pupil, picture));
        assert!(!serving.app.host().knows(lost));
    }
    let picture = picture_of(&all.desk, pupil, page);
    assert!(gives(&all.desk, new.id(), pupil, picture));
}

/// How much of a blob is here already is said to whoever is asked for the rest.
#[tokio::test(flavor = "multi_thread")]
async fn what_came_of_a_picture_for_one_pupil_is_not_told_to_those_of_another() {
    let all = practice().await;
    let (wren, robin) = (all.wren.0, all.robin.0);
    all.robins.app.close().await;
    let page = all.robins.invent_page(robin, 6, 200_000);
    hand_over(&all.robins, &all.desk, |_| true);
    let id = picture_of(&all.robins, robin, page);
    let picture = all.robins.picture(robin, page).unwrap();
    let (begin, _) = picture.split_at(65_536);
    let host = all.desk.app.host();
    let within = |pupil: PupilId| Wanted { scope: pupil.0, id };
    let begun = begin.to_vec();
    let robins = all.robins.id();
    host.keep_part(robins, within(robin), 0, begun).unwrap();
    let here = host.part(robins, within(robin)).unwrap();
    assert!(here.as_deref() == Some(begin));
    // Another family has heard of the name, and writes it in a book of its own.
    let record = all.robins.record(robin, page);
    let told = all.wrens.app.keep_measured_page(wren, record, Vec::new());
    told.unwrap();
    all.wrens.app.close().await;
    hand_over(&all.wrens, &all.desk, |_| true);
    let wrens = all.wrens.id();
    assert!(host.wants(wrens).unwrap().contains(&within(wren)));
    assert!(host.part(wrens, within(wren)).unwrap().is_none());
}
