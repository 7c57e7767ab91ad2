//! Every input that a fuzzer starts from, and every one that ever broke something, tried again:
//! `photo`, `kept` and `exif` hold them by the way they come in.

mod ways;

use std::fs;
use std::path::{Path, PathBuf};

type Way = fn(&[u8]);

const WAYS: [(&str, Way); 3] = [
    ("photo", ways::photo),
    ("kept", ways::kept),
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

#[test]
#[ignore = "draws the pages that a fuzzer starts from, anew"]
fn draw_pages() {
    let fonts = demo::Fonts::load(&demo::Fonts::folder()).expect("the typefaces");
    for (number, page) in demo::sets::test_pages().into_iter().enumerate() {
        if !matches!(
            page.id,
            "a5-lines8-uneven" | "a5-squares5" | "a5-lines8-turned"
        ) {
            continue;
        }
        let mut spec = page.spec;
        (spec.camera.width, spec.camera.height) = (480, 640);
        spec.camera.quality = 60;
        let jpeg = spec.draw(&fonts).jpeg;
        let name = page.id;
        fs::write(folder("photo").join(format!("{name}.jpg")), &jpeg).expect("room");
        let kept = [&[(number as u8) << 4, 48], &jpeg[..]].concat();
        fs::write(folder("kept").join(name), kept).expect("room");
    }
}
