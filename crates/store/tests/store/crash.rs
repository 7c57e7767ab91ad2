//! A writing process killed at random moments.

use std::path::Path;
use std::time::Duration;

use crate::child::{filling, next, next_done, photo, start};
use crate::ground::{blob_files, id_of, open};

const KILLS: u64 = 20;

#[test]
fn nothing_acknowledged_is_lost_and_nothing_is_half_there() {
    let folder = tempfile::tempdir().unwrap();
    let mut seed = 20_261_125;
    let mut acknowledged = 0;
    for kill in 0..KILLS {
        let (mut child, mut out) = start("write", folder.path());
        // Once it writes, let it live for up to a tenth of a second more.
        let mut seen = next_done(&mut out).expect("the process writes");
        std::thread::sleep(Duration::from_micros(next(&mut seed) % 100_000));
        child.kill().unwrap();
        child.wait().unwrap();
        while let Some(number) = next_done(&mut out) {
            seen = number;
        }
        assert!(
            seen > acknowledged,
            "kill {kill}: the process went on writing"
        );
        acknowledged = seen;
        let there = whole_pages(folder.path());
        // What was written but not yet told may be there too: one page at most.
        assert!(
            there == acknowledged || there == acknowledged + 1,
            "kill {kill}: {there} pages there, {acknowledged} acknowledged"
        );
    }
    println!("{KILLS} kills, {acknowledged} pages acknowledged, none lost");
}

/// Number of pages, after making sure that each is whole and that nothing of a further one is
/// there.
fn whole_pages(folder: &Path) -> u64 {
    let store = open(folder);
    store.check().unwrap();
    let last = store.setting("last").unwrap().unwrap();
    let last = u64::from_le_bytes(last.try_into().unwrap());
    for doc in [b"home".as_slice(), b"tutor"] {
        let changes = store.changes(doc, 0..).unwrap();
        assert_eq!(changes.len() as u64, last);
        for (index, (seq, bytes)) in changes.into_iter().enumerate() {
            assert_eq!(seq, index as u64 + 1);
            assert_eq!(bytes, filling(seq, 700));
        }
    }
    for number in 1..=last {
        let id = id_of(&photo(number));
        assert_eq!(store.blob(id).unwrap(), Some(photo(number)));
    }
    let further = id_of(&photo(last + 1));
    assert!(!store.has_blob(further).unwrap());
    assert_eq!(
        blob_files(folder).len() as u64,
        last,
        "no file is left over"
    );
    last
}
