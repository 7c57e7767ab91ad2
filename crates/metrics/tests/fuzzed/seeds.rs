//! What a fuzzer starts from. Run by hand where a way's first bytes change:
//!
//! ```text
//! cargo test -p metrics --test fuzzed -- --ignored
//! ```

use std::fs;
use std::io::Cursor;

use image::{DynamicImage, GrayImage, ImageFormat, Luma};

use crate::folder;

fn keep(way: &str, name: &str, bytes: &[u8]) {
    fs::write(folder(way).join(name), bytes).expect("room");
}

#[test]
#[ignore = "draws the photographs that a fuzzer starts from, anew"]
fn photographs() {
    let fonts = demo::Fonts::load(&demo::Fonts::folder()).expect("the typefaces");
    let wanted = [
        ("a5-lines8-uneven", "jpg"),
        ("a5-squares5", "webp"),
        ("a5-lines8-turned", "png"),
    ];
    for (number, page) in demo::sets::test_pages().into_iter().enumerate() {
        let Some((name, ending)) = wanted.iter().find(|(id, _)| *id == page.id) else {
            continue;
        };
        let mut spec = page.spec;
        (spec.camera.width, spec.camera.height) = (400, 520);
        (spec.camera.noise, spec.camera.quality) = (0.0, 60);
        let jpeg = spec.draw(&fonts).jpeg;
        let format = ImageFormat::from_extension(ending).expect("a format");
        let mut file = Cursor::new(jpeg.clone());
        if format != ImageFormat::Jpeg {
            let photo = image::load_from_memory(&jpeg).expect("a photograph");
            file = Cursor::new(Vec::new());
            // Eight greys take little room without loss.
            let mut grey = photo.into_luma8();
            grey.iter_mut().for_each(|v| *v = *v & 0xE0 | 0x10);
            DynamicImage::ImageLuma8(grey)
                .write_to(&mut file, format)
                .expect("memory");
        }
        keep("photo", &format!("{name}.{ending}"), file.get_ref());
        let kept = [&[(number as u8) << 4, 48], &jpeg[..]].concat();
        keep("kept", name, &kept);
    }
}

#[test]
#[ignore = "writes the file that decoding starts from beside those that are bad, anew"]
fn files() {
    let slope = GrayImage::from_fn(420, 404, |x, y| Luma([(x / 40 + y / 40) as u8 * 9]));
    let mut file = Cursor::new(Vec::new());
    slope
        .write_to(&mut file, ImageFormat::WebP)
        .expect("memory");
    keep("file", "steps.webp", file.get_ref());
}

/// Ten pixels a millimetre, 40 × 30 mm, ruled every 8 mm, a little shade and noise.
const SHEET: [u8; 9] = [152, 196, 146, 230, 77, 2, 190, 10, 40];

/// Kind, place, size, grey and manner of one thing drawn.
type Thing = [u8; 7];

/// Words of ovals and stems, three to a line, on three lines.
const WORDS: [Thing; 6] = [
    [1, 15, 29, 18, 21, 70, 3],
    [0, 28, 20, 0, 40, 70, 6],
    [1, 32, 29, 19, 21, 70, 3],
    [0, 44, 29, 0, 40, 70, 6],
    [6, 13, 19, 70, 64, 89, 3],
    [7, 10, 19, 255, 64, 79, 2],
];

#[test]
#[ignore = "draws the small pages that a fuzzer starts from, anew"]
fn small_pages() {
    let pages: [(&str, [u8; 2], &[Thing]); 6] = [
        ("words", [0b1_0000, 0], &WORDS),
        ("words-photographed", [0b1_0000, 255], &WORDS),
        (
            "words-struck",
            [0b0_0000, 0],
            &[&WORDS[..], &STRUCK].concat(),
        ),
        (
            "words-over-a-block",
            [0b10_0110, 0],
            &[&BLOCK[..], &WORDS].concat(),
        ),
        ("chequers", [0b0_0010, 0], &[[5, 20, 20, 255, 200, 30, 1]]),
        ("disorder", [0b0_1000, 0], &[[3, 12, 12, 255, 230, 60, 40]]),
    ];
    for (name, expected, things) in pages {
        let bytes = [&expected[..], &SHEET, things.as_flattened()].concat();
        keep("drawn", name, &bytes);
    }
}

const STRUCK: [Thing; 2] = [[0, 60, 34, 70, 0, 70, 4], [0, 60, 70, 66, 20, 60, 7]];
const BLOCK: [Thing; 2] = [[2, 80, 60, 120, 60, 20, 0], [4, 5, 90, 160, 90, 120, 31]];

#[test]
#[ignore = "writes what is told of a page when a fuzzer starts, anew"]
fn tellings() {
    let told = |expected: u8, numbers: [f64; 4], text: &str| {
        let numbers = numbers.map(f64::to_le_bytes);
        [&[expected], numbers.as_flattened(), text.as_bytes()].concat()
    };
    let lines = told(
        0b0,
        [8.0, 0.0, 10.0, 0.004],
        "olop olop olop\nolop olop olop",
    );
    keep("told", "lines", &lines);
    let squares = told(0b10, [4.0, 2.0, 10.0, 0.004], "");
    keep("told", "squares", &squares);
    let four = told(0b100, [16.0, 4.0, 10.0, 0.004], "olop olop");
    keep("told", "four-lines", &four);
    let no_side = told(0b10, [f64::NAN, 1.0, 10.0, 0.004], "");
    keep("told", "squares-without-a-side", &no_side);
    let no_scale = told(0b0, [8.0, 0.0, f64::NAN, 0.004], "olop");
    keep("told", "no-scale", &no_scale);
}
