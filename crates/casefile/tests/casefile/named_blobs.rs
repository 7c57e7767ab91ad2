//! Which blobs the changes name, also those that this version cannot read.

use std::collections::BTreeSet;

use casefile::{BookKind, CaseFile, Edit};
use proptest::prelude::*;
use units::{BlobId, PageId};

use crate::fixtures::*;

fn blob(id: u8) -> BlobId {
    BlobId([id; 32])
}

fn named(file: &CaseFile, among: &[BlobId]) -> Vec<BlobId> {
    let among: BTreeSet<BlobId> = among.iter().copied().collect();
    file.blobs_named(&among).into_iter().collect()
}

#[test]
fn pictures_and_readings_are_named_by_whatever_version_wrote_them() {
    let people = People::new();
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut file = people.file();
    file.write(phone, Edit::AddPage(page(1, phone))).unwrap();
    let again = Edit::AddReading {
        page: PageId([1; 16]),
        reading: reading(2),
    };
    file.write(laptop, again).unwrap();
    let picture = page(1, phone).picture;
    let asked = [picture, blob(1), blob(2), blob(3), blob(0x55)];
    assert_eq!(named(&file, &asked), [blob(1), blob(2), picture]);
    // A change in another format, with a name at an odd place of its bytes.
    let mut bytes = vec![7; 5];
    bytes.extend([0x55; 32]);
    let id = doc(BookKind::Home, &people.second_phone);
    file.accept(&sign_as(2, 4, id, 1, bytes)).unwrap();
    assert!(file.view().newer);
    let wanted = [blob(1), blob(2), blob(0x55), picture];
    assert_eq!(named(&file, &asked), wanted);
    assert!(named(&file, &[]).is_empty());
}

#[test]
fn once_founded_anew_nothing_names_what_was_forgotten() {
    let people = People::new();
    let phone = &people.phone;
    let mut file = people.file();
    for id in [1, 2] {
        file.write(phone, Edit::AddPage(page(id, phone))).unwrap();
    }
    let asked = [1, 2].map(|id| page(id, phone).picture);
    assert_eq!(named(&file, &asked).len(), 2);
    found(&mut file, &people.laptop, 5, &[[1; 16]]);
    assert_eq!(named(&file, &asked), [page(2, phone).picture]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..Default::default() })]

    /// Names are found just where a plain look at every place finds them.
    #[test]
    fn names_are_found_wherever_they_stand(
        bytes in prop::collection::vec(0..3_u8, 32..300),
        others in prop::collection::vec(prop::collection::vec(0..3_u8, 32), 0..20),
    ) {
        let people = People::new();
        let mut file = people.file();
        let id = doc(BookKind::Home, &people.phone);
        file.accept(&sign_as(2, 3, id, 1, bytes.clone())).unwrap();
        let at = |at: usize| BlobId(bytes[at..at + 32].try_into().unwrap());
        let others = others.iter().map(|other| BlobId(other.as_slice().try_into().unwrap()));
        let asked: BTreeSet<BlobId> =
            others.chain([at(0), at(bytes.len() - 32), at((bytes.len() - 32) / 2)]).collect();
        let holds = |id: &&BlobId| bytes.windows(32).any(|part| part == id.0);
        let wanted: BTreeSet<BlobId> = asked.iter().filter(holds).copied().collect();
        prop_assert_eq!(file.blobs_named(&asked), wanted);
    }
}
