//! Every input that a fuzzer starts from, and every one that ever broke something, tried again:
//! each way in has a folder of them.

#![allow(clippy::disallowed_methods)]

mod drawn;
mod seeds;
mod ways;

use std::fs;
use std::path::{Path, PathBuf};

type Way = fn(&[u8]);

const WAYS: [(&str, Way); 6] = [
    ("file", ways::file),
    ("photo", ways::photo),
    ("kept", ways::kept),
    ("drawn", ways::drawn),
    ("told", ways::told),
    ("exif", ways::exif),
];

fn folder(way: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzzed")
        .join(way)
}

#[test]
fn nothing_that_was_ever_tried_ends_the_program() {
    for (way, try_out) in WAYS {
        let mut files: Vec<PathBuf> = fs::read_dir(folder(way))
            .expect("a folder of inputs")
            .map(|entry| entry.expect("a file").path())
            .collect();
        files.sort();
        assert!(!files.is_empty(), "{way} has no inputs");
        for file in files {
            let bytes = fs::read(&file).expect("its bytes");
            println!("{}", file.display());
            try_out(&bytes);
        }
    }
}
