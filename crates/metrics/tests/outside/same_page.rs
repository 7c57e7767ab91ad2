//! What must not change a measure: how the camera was turned, how many pixels it has, how the file
//! stores the picture, and what else the machine is doing.

use demo::camera::Camera;
use demo::font::Shapes;
use demo::hand::Hand;
use demo::paper::Sheet;
use demo::writing::Writing;
use image::codecs::png::PngEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage, imageops};
use metrics::{Photo, decode};
use units::{Expectation, MeasureName, Mm, Paper, Reading, Ruling};

use crate::photo::{expectation, figure, held, photograph, read, read_photo};

const TEXT: &str = "the old dog ran along the hill path and took a long drink from the pond while \
    two small ducks hid below the plank and a bold hen had a look at him from the back of the shed";

/// A sheet in an uneven hand that leans forward by about eight degrees.
fn sheet() -> (Sheet, Writing) {
    let fonts = demo::Fonts::load(&demo::Fonts::folder())
        .expect("the fonts are there; `npm ci` in demo/fonts fetches them");
    let sheet = Sheet::new(Paper::A5, Ruling::Lines { pitch: Mm(9.0) });
    let hand = Hand {
        slant: 8.0,
        ..Hand::even(Shapes::Open, 2.8)
    };
    let writing = demo::writer::write(&fonts, TEXT, &sheet, &hand, 4);
    assert_eq!(writing.left_over, 0);
    (sheet, writing)
}

fn taken(camera: &Camera) -> (Vec<u8>, Expectation) {
    let (sheet, writing) = sheet();
    let bytes = photograph(&sheet, &writing, camera);
    (bytes, expectation(&sheet, writing.text()))
}

fn reading(camera: &Camera) -> Reading {
    let (bytes, expect) = taken(camera);
    read(&bytes, &expect).1
}

/// Every measure of both, and how far apart they are in their own standard errors.
fn compare(a: &Reading, b: &Reading, within: impl Fn(MeasureName) -> Option<f64>) {
    for &name in MeasureName::ALL {
        let (Some((x, one)), Some((y, other))) = (figure(a, name), figure(b, name)) else {
            assert_eq!(figure(a, name), figure(b, name), "{name:?}");
            continue;
        };
        let away = (x - y).abs();
        let se = (one * one + other * other).sqrt();
        println!(
            "  {:16} {x:8.3} and {y:8.3}, {:.1} se",
            name.text(),
            away / se
        );
        if let Some(limit) = within(name) {
            assert!(away <= limit, "{name:?}: {x} and {y}");
        }
        // Two photographs of one page: no further apart than the errors stated for both allow in 95
        // of 100 cases.
        assert!(
            away <= 1.96 * se + 0.01 || name == MeasureName::OnLine,
            "{name:?}: {x} and {y}, se {se}"
        );
    }
}

#[test]
fn a_camera_turned_by_three_degrees_changes_no_measure() {
    let straight = Camera {
        turn: 0.0,
        ..held(1500, 2000)
    };
    let before = reading(&straight);
    for turn in [3.0, -3.0] {
        println!("turned by {turn}°");
        let turned = Camera {
            turn,
            ..straight.clone()
        };
        compare(&before, &reading(&turned), |name| match name {
            MeasureName::Slant => Some(0.4),
            // A single stroke seen in one photograph only moves it by some tenths.
            MeasureName::SlantSd => Some(0.6),
            MeasureName::Drift => Some(0.05),
            _ => None,
        });
    }
}

#[test]
fn twice_the_pixels_change_no_proportion() {
    let few = held(1240, 1650);
    let many = Camera {
        // The same optics: what blurs by one pixel there blurs by two here.
        blur: 2.0 * few.blur,
        ..held(2480, 3300)
    };
    compare(&reading(&few), &reading(&many), |name| match name {
        MeasureName::AscenderRatio
        | MeasureName::DescenderRatio
        | MeasureName::LetterGap
        | MeasureName::WordGap => Some(0.04),
        MeasureName::XHeight => Some(0.06),
        _ => None,
    });
}

fn bytes_of(reading: &Reading) -> Vec<u8> {
    serde_json::to_vec(reading).expect("a reading can be written")
}

#[test]
fn the_same_bytes_give_the_same_reading_however_busy_the_machine() {
    let (bytes, expect) = taken(&held(1000, 1330));
    let alone = bytes_of(&read(&bytes, &expect).1);
    assert_eq!(alone, bytes_of(&read(&bytes, &expect).1));
    let (bytes, expect) = (&bytes, &expect);
    let together: Vec<Vec<u8>> = std::thread::scope(|scope| {
        let all: Vec<_> = (0..6)
            .map(|_| scope.spawn(move || bytes_of(&read(bytes, expect).1)))
            .collect();
        all.into_iter()
            .map(|t| t.join().expect("it ends"))
            .collect()
    });
    assert!(together.iter().all(|reading| *reading == alone));
}

/// A PNG with its orientation in an eXIf chunk (PNG, third edition, 11.3.3.4; Exif 2.3, tag 0x0112).
fn png(stored: &RgbImage, orientation: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = PngEncoder::new(&mut bytes);
    let mut tiff = b"MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
    encoder.set_exif_metadata(tiff).expect("PNG takes it");
    encoder
        .write_image(
            stored,
            stored.width(),
            stored.height(),
            ExtendedColorType::Rgb8,
        )
        .expect("memory does not fail");
    bytes
}

/// The stored picture that each of the eight orientations turns upright.
fn stored(upright: &RgbImage, orientation: u8) -> RgbImage {
    let turned = match orientation {
        3 | 4 => imageops::rotate180(upright),
        5 | 8 => imageops::rotate90(upright),
        6 | 7 => imageops::rotate270(upright),
        _ => upright.clone(),
    };
    match orientation {
        2 | 4 => imageops::flip_horizontal(&turned),
        5 | 7 => imageops::flip_horizontal(&turned),
        _ => turned,
    }
}

#[test]
fn however_a_file_stores_the_pixels_they_give_the_same_reading() {
    let (bytes, expect) = taken(&held(1000, 1330));
    let upright = decode(&bytes).expect("a photograph").rgb;
    let from_jpeg = bytes_of(&read(&bytes, &expect).1);
    for orientation in 1..=8 {
        let photo = decode(&png(&stored(&upright, orientation), orientation)).expect("a PNG");
        assert!(photo.rgb == upright, "orientation {orientation}");
    }
    let mut webp = Vec::new();
    let encoder = WebPEncoder::new_lossless(&mut webp);
    encoder
        .write_image(
            &upright,
            upright.width(),
            upright.height(),
            ExtendedColorType::Rgb8,
        )
        .expect("memory does not fail");
    let photo = decode(&webp).expect("a WebP");
    assert!(photo.rgb == upright);
    assert_eq!(bytes_of(&read_photo(&photo, &expect).1), from_jpeg);
}

#[test]
fn a_phone_held_any_way_up_gives_the_same_measures() {
    // What JPEG loses differs with the way the picture is stored.
    let (bytes, expect) = taken(&held(1240, 1650));
    let upright = decode(&bytes).expect("a photograph").rgb;
    let first = read_photo(
        &Photo {
            rgb: upright.clone(),
        },
        &expect,
    )
    .1;
    for orientation in [3, 6, 8] {
        println!("orientation {orientation}");
        let mut jpeg = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 92)
            .encode_image(&demo::exif::as_stored(upright.clone(), orientation))
            .expect("memory does not fail");
        let exif = demo::exif::Exif {
            orientation,
            position: false,
        };
        let (_, reading) = read(&demo::exif::insert(&jpeg, &exif), &expect);
        compare(&first, &reading, |name| match name {
            MeasureName::Slant => Some(0.2),
            MeasureName::Drift => Some(0.03),
            MeasureName::XHeight => Some(0.02),
            _ => None,
        });
    }
}
