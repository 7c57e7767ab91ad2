//! Files that lost their end or some of their bytes: the folder opens as it was earlier, or says that
//! it is damaged, and never hands out anything else.

use std::fs;
use std::path::Path;

use store::{OpenError, Store, StoreError};

use crate::child::{filling, next, page, photo};
use crate::ground::{blob_files, copy_folder, damaged, folder, id_of, open, opened};

const PAGES: u64 = 12;

/// A folder as it lies on the disk while a process has it open: all of its pages are in the log.
fn with_log() -> tempfile::TempDir {
    let folder = folder();
    let (data, copy) = (folder.path().join("data"), folder.path().join("copy"));
    let store = open(&data);
    for number in 1..=PAGES {
        store.transaction(page(number)).unwrap();
    }
    copy_folder(&data, &copy);
    folder
}

fn log(folder: &Path) -> std::path::PathBuf {
    folder.join("pothook.sqlite-wal")
}

/// How many pages there are, each whole, and nothing of a further one.
fn whole_pages(store: &Store) -> u64 {
    store.check().unwrap();
    let last = store.setting("last").unwrap();
    let last = last.map_or(0, |bytes| u64::from_le_bytes(bytes.try_into().unwrap()));
    for doc in [b"home".as_slice(), b"tutor"] {
        let changes = store.changes(doc, 0..).unwrap();
        let expected: Vec<_> = (1..=last).map(|seq| (seq, filling(seq, 700))).collect();
        assert_eq!(changes, expected);
    }
    assert_eq!(store.blobs().unwrap().len() as u64, last);
    for number in 1..=last {
        assert_eq!(
            store.blob(id_of(&photo(number))).unwrap(),
            Some(photo(number))
        );
    }
    last
}

/// Opens a copy of the folder in which one file was altered. `None`: it was found out.
fn opens_as(from: &Path, alter: impl Fn(&Path)) -> Option<u64> {
    let copy = folder();
    copy_folder(from, copy.path());
    alter(copy.path());
    match opened(copy.path()) {
        Ok(store) => match store.check() {
            Ok(()) => Some(whole_pages(&store)),
            Err(StoreError::Damaged(_)) => None,
            Err(other) => panic!("{other:?}"),
        },
        Err(OpenError::Damaged(_) | OpenError::NotADatabase) => None,
        Err(other) => panic!("{other:?}"),
    }
}

/// SQLite's log: 32 bytes of its own, then frames of 24 bytes and a page each
/// (<https://www.sqlite.org/fileformat2.html>, section 4.1).
#[test]
fn a_log_cut_anywhere_leaves_an_earlier_moment() {
    let folder = with_log();
    let from = folder.path().join("copy");
    let whole = fs::read(log(&from)).unwrap();
    let frames = (whole.len() - 32) / 4120;
    assert!(frames > 50, "{frames} frames");
    let mut ends: Vec<usize> = (0..=frames)
        .map(|frame| 32 + frame * 4120)
        .flat_map(|end| [end.saturating_sub(1), end, end + 1, end + 24, end + 2000])
        .filter(|end| *end <= whole.len())
        .collect();
    ends.extend([0, 1, 16, 31]);
    ends.sort_unstable();
    let mut before = 0;
    let mut seen = std::collections::BTreeSet::new();
    for end in &ends {
        let pages = opens_as(&from, |copy| fs::write(log(copy), &whole[..*end]).unwrap());
        let pages = pages.expect("a cut log is no damage");
        assert!(pages >= before, "a longer log never holds less");
        before = pages;
        seen.insert(pages);
    }
    assert_eq!(
        seen,
        (0..=PAGES).collect(),
        "every page was the last one once"
    );
    println!("{} cuts of a log of {frames} frames", ends.len());
}

#[test]
fn a_log_with_altered_bytes_leaves_an_earlier_moment() {
    let folder = with_log();
    let from = folder.path().join("copy");
    let whole = fs::read(log(&from)).unwrap();
    let mut seed = 20_270_103;
    for round in 0..150 {
        let at = next(&mut seed) as usize % whole.len();
        let length = if round % 2 == 0 { 1 } else { 512 };
        opens_as(&from, |copy| {
            let mut bytes = whole.clone();
            let end = whole.len().min(at + length);
            bytes[at..end].iter_mut().for_each(|byte| *byte ^= 0x5A);
            fs::write(log(copy), bytes).unwrap();
        });
    }
}

#[test]
fn a_log_from_another_moment_is_no_harm() {
    let folder = with_log();
    let from = folder.path().join("copy");
    // The log of another folder.
    let other = with_log();
    let foreign = fs::read(log(&other.path().join("copy"))).unwrap();
    let pages = opens_as(&from, |copy| fs::write(log(copy), &foreign).unwrap());
    assert!(pages.is_none_or(|pages| pages <= PAGES));
    // The log is gone.
    assert_eq!(
        opens_as(&from, |copy| fs::remove_file(log(copy)).unwrap()),
        Some(0)
    );
}

#[test]
fn a_database_cut_anywhere_is_found_out() {
    let folder = folder();
    let data = folder.path().join("data");
    let store = open(&data);
    for number in 1..=PAGES {
        store.transaction(page(number)).unwrap();
    }
    drop(store);
    let path = |folder: &Path| folder.join("pothook.sqlite");
    let whole = fs::read(path(&data)).unwrap();
    let ends = (0..whole.len())
        .step_by(4096)
        .flat_map(|end| [end, end + 1, end + 2048]);
    let mut cuts = 0;
    for end in ends {
        let pages = opens_as(&data, |copy| fs::write(path(copy), &whole[..end]).unwrap());
        assert_eq!(pages, None, "cut at {end} of {}", whole.len());
        cuts += 1;
    }
    println!("{cuts} cuts of a database of {} bytes", whole.len());
}

#[test]
fn a_blob_file_cut_or_altered_anywhere_is_found_out() {
    let folder = folder();
    let store = open(folder.path());
    let photo = filling(4, 140_000);
    let id = store.put_blob(&photo).unwrap();
    let file = blob_files(folder.path()).remove(0);
    let whole = fs::read(&file).unwrap();
    // 16 bytes for each chunk of 64 KiB.
    assert_eq!(whole.len(), photo.len() + 3 * 16);
    for end in (0..whole.len()).step_by(997).chain([whole.len() - 1]) {
        fs::write(&file, &whole[..end]).unwrap();
        assert!(damaged(store.blob(id)), "cut at {end}");
    }
    for at in (0..whole.len()).step_by(499).chain([whole.len() - 1]) {
        let mut bytes = whole.clone();
        bytes[at] ^= 1;
        fs::write(&file, bytes).unwrap();
        assert!(damaged(store.blob(id)), "altered at {at}");
    }
    // Whole again, and without its middle chunk.
    fs::write(&file, [&whole[..65_552], &whole[2 * 65_552..]].concat()).unwrap();
    assert!(damaged(store.blob(id)));
    fs::write(&file, &whole).unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(photo));
}
