//! Every input that a fuzzer starts from, and every one that ever broke something, tried again: carry
//! files, pairing texts, frames, whole conversations, and changes.

use std::fs;
use std::path::{Path, PathBuf};

type Way = fn(&[u8]);

const WAYS: [(&str, Way); 6] = [
    ("carry", sync::carry::fuzz),
    ("code", sync::fuzz::code),
    ("frame", sync::fuzz::frame),
    ("talk", sync::fuzz::talk),
    ("outside", casefile::fuzz::outside),
    ("signed", casefile::fuzz::signed),
];

#[test]
fn nothing_that_was_ever_tried_ends_the_program() {
    for (way, try_out) in WAYS {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fuzzed")
            .join(way);
        let mut files: Vec<PathBuf> = fs::read_dir(folder)
            .expect("a folder of inputs")
            .map(|entry| entry.expect("a file").path())
            .collect();
        files.sort();
        assert!(!files.is_empty(), "{way} has no inputs");
        for file in files {
            println!("{}", file.display());
            try_out(&fs::read(&file).expect("its bytes"));
        }
    }
}

/// A short run in every test: the same bytes each time, and every way in.
#[test]
fn bytes_from_nowhere_end_nothing() {
    for (way, try_out) in WAYS {
        for seed in 0..300_u32 {
            let mut hash = blake3::Hasher::new();
            hash.update(way.as_bytes()).update(&seed.to_le_bytes());
            let mut bytes = vec![0; 3 + seed as usize];
            hash.finalize_xof().fill(&mut bytes);
            try_out(&bytes);
        }
    }
}
