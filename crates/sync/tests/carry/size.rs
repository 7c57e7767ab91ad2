//! How much a file adds to what it carries. `--nocapture` shows the figures.

use sync::carry::{Parcel, seal};

use crate::*;

/// Files over content.
fn ratio(parcel: &Parcel, to: usize, limit: u64) -> f64 {
    let to: Vec<_> = (0..to).map(|nth| device(&[50 + nth as u8; 32])).collect();
    let files = seal(parcel, &PARENT, &to, limit).unwrap();
    let changes: usize = parcel.changes.iter().map(Vec::len).sum();
    let blobs: usize = parcel.blobs.iter().map(|(_, bytes)| bytes.len()).sum();
    let content = changes + blobs;
    let size: usize = files.iter().map(Vec::len).sum();
    let ratio = size as f64 / content as f64;
    println!(
        "{} devices, {} files, {content} bytes in {size}: {ratio:.5}",
        to.len(),
        files.len()
    );
    ratio
}

fn parcel(changes: usize, blobs: &[usize]) -> Parcel {
    let blobs = blobs.iter().zip(0..);
    Parcel {
        scope: noise(0, 17),
        made: 1_750_000_000_000,
        have: (0..4).map(|nth| (noise(nth, 50), 300)).collect(),
        changes: (0..changes).map(|nth| noise(nth as u8, 150)).collect(),
        blobs: blobs.map(|(length, seed)| blob(seed, *length)).collect(),
        ..Parcel::default()
    }
}

#[test]
fn a_page_and_its_changes_grow_by_less_than_a_twentieth() {
    let page = parcel(14, &[1_200_000]);
    for to in [1, 2, 6] {
        assert!(ratio(&page, to, ANY_SIZE) <= 1.05);
    }
    // In parts as small as a blob of this size bears, and a year in one go.
    assert!(ratio(&page, 1, 300_000) <= 1.05);
    let year = parcel(52 * 14, &[1_200_000; 26]);
    assert!(ratio(&year, 6, 8 << 20) <= 1.05);
}

#[test]
fn changes_alone_grow_by_less_than_a_twentieth_beyond_a_constant() {
    let size = |changes| post(&parcel(changes, &[])).len();
    let (few, many) = (size(1), size(1001));
    println!("1 change: {few} bytes; 1001 changes: {many} bytes");
    // Files of one parcel differ by some 200 bytes that mean nothing.
    assert!(many - few <= 150 * 1000 * 105 / 100 + 250);
}

#[test]
fn nothing_new_is_a_small_file() {
    let mut sizes: Vec<_> = (0..20).map(|_| post(&parcel(0, &[])).len()).collect();
    sizes.sort_unstable();
    println!(
        "nothing new, four documents: {} to {} bytes",
        sizes[0], sizes[19]
    );
    assert!(sizes[19] < 1024);
}
