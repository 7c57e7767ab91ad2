//! What must hold of every reading, and that it is what the training framework says of the same crops.

use image::{GrayImage, Luma};
use proptest::prelude::*;

use super::*;
use crate::ink::PAPER;
use crate::pieces::Run;

const LEVEL: u8 = 80;

fn sheet(width: u32, height: u32, grey: u8) -> Ink {
    Ink {
        grey: GrayImage::from_pixel(width, height, Luma([grey])),
        mask: GrayImage::from_pixel(width, height, Luma([255])),
        level: f64::from(LEVEL),
        pen: 3.0,
        blur: 0.5,
    }
}

fn filled(x0: u32, x1: u32, rows: std::ops::Range<u32>) -> Piece {
    Piece {
        runs: rows.map(|y| Run { y, x0, x1 }).collect(),
    }
}

fn place(baseline: f64, x_height: f64, lean: f64) -> Place {
    Place {
        baseline,
        x_height,
        lean,
    }
}

/// Crops that the training framework was asked about, from `model/check.png`.
fn checked() -> Vec<crop::Crop> {
    let picture = image::load_from_memory(include_bytes!("../../model/check.png"));
    let picture = picture.expect("the picture is whole").to_luma8();
    let tile = |k: u32| {
        let (left, top) = (k % 16 * 32, k / 16 * 40);
        std::array::from_fn(|at| {
            let at = at as u32;
            f32::from(picture.get_pixel(left + at % 32, top + at / 32)[0]) / 255.0
        })
    };
    (0..64).map(tile).collect()
}

#[test]
fn wide_registers_give_the_same_bits() {
    for crop in checked() {
        let bits = |logits: [f32; OUTPUTS]| logits.map(f32::to_bits);
        assert_eq!(bits(net::logits(&crop)), bits(net::forward(&crop)));
    }
}

#[test]
fn logits_are_those_of_the_training_framework() {
    let theirs: Vec<Vec<f32>> = serde_json::from_str(include_str!("../../model/check.json"))
        .expect("the logits fit their schema");
    let mut furthest: f32 = 0.0;
    for (crop, theirs) in checked().iter().zip(&theirs) {
        assert_eq!(theirs.len(), OUTPUTS);
        for (a, b) in net::logits(crop).iter().zip(theirs) {
            furthest = furthest.max((a - b).abs());
        }
    }
    println!("furthest logit: {furthest}");
    // Only the order of summing is another; the file has four decimals.
    assert!(furthest < 1e-3, "{furthest}");
}

#[test]
fn a_crop_shows_the_letter_where_it_stands() {
    // A bar from the baseline up to the x-height, two cells wide at 20 pixels to the x-height.
    let ink = sheet(120, 120, LEVEL);
    let bar = filled(50, 54, 60..80);
    let crop = crop::crop(&ink, &[&bar], place(80.0, 20.0, 0.0)).expect("ink in sight");
    let at = |row: usize, column: usize| crop[row * crop::COLUMNS + column];
    for row in 0..crop::ROWS {
        let inside = (15..27).contains(&row);
        assert_eq!(at(row, 15) > 0.99, inside, "row {row}");
        assert_eq!(at(row, 13), 0.0);
    }
    let whole: f32 = crop.iter().sum();
    let cells = 4.0 * 20.0 * 0.6 * 0.6;
    assert!((whole - cells).abs() < 0.01, "{whole}");
}

#[test]
fn the_lean_of_the_page_is_undone() {
    let ink = sheet(200, 120, LEVEL);
    let lean = 0.25;
    let leaning = Piece {
        runs: (40..80)
            .map(|y| {
                let x0 = 90 + ((79 - y) / 4);
                Run { y, x0, x1: x0 + 4 }
            })
            .collect(),
    };
    let crop = crop::crop(&ink, &[&leaning], place(80.0, 20.0, lean)).expect("ink in sight");
    let inked = |column: usize| (0..crop::ROWS).any(|row| crop[row * crop::COLUMNS + column] > 0.1);
    let across = (0..crop::COLUMNS).filter(|c| inked(*c)).count();
    assert!(across <= 4, "{across} columns");
}

#[test]
fn nothing_is_read_where_there_is_no_letter() {
    let ink = sheet(60, 60, LEVEL);
    let bar = filled(20, 24, 20..40);
    assert_eq!(
        recognise(&ink, &Piece::default(), place(40.0, 20.0, 0.0)),
        None
    );
    for odd in [
        place(f64::NAN, 20.0, 0.0),
        place(40.0, f64::NAN, 0.0),
        place(40.0, 0.0, 0.0),
        place(40.0, -20.0, 0.0),
        place(40.0, 1e12, 0.0),
        place(40.0, 20.0, f64::INFINITY),
        place(-1e9, 20.0, 0.0),
    ] {
        assert_eq!(recognise(&ink, &bar, odd), None, "{odd:?}");
    }
    let off_the_sheet = filled(4_000_000_000, 4_000_000_001, 20..40);
    let reads = recognise(&ink, &off_the_sheet, place(40.0, 20.0, 0.0));
    assert!(reads.is_none_or(|r| r.best().1 <= 1.0));
}

#[test]
fn letters_of_one_shape_count_as_one_where_asked_for() {
    let mut probabilities = [0.0; OUTPUTS];
    for (c, p) in [(b'c', 0.5), (b'C', 0.25), (b'e', 0.25)] {
        let at = CLASSES.iter().position(|k| *k == c);
        probabilities[at.expect("a known letter")] = p;
    }
    let reads = Reads { probabilities };
    assert_eq!(reads.best(), (Some('c'), 0.5));
    assert_eq!(reads.as_meant('c'), Some(0.75));
    assert_eq!(reads.as_meant('C'), Some(0.75));
    assert_eq!(reads.as_meant('e'), Some(0.25));
    assert_eq!(reads.as_meant('ß'), None);
    assert_eq!(reads.as_meant('€'), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_reading_is_a_distribution_and_the_same_twice(
        seed in any::<u64>(),
        runs in prop::collection::vec((0_u32..300, 0_u32..400, 1_u32..200), 0..80),
        baseline in -100.0..400.0,
        x_height in 1.0..400.0,
        lean in -1.0..1.0,
    ) {
        let mut ink = sheet(400, 300, PAPER);
        for (k, pixel) in ink.grey.pixels_mut().enumerate() {
            pixel[0] = (seed.wrapping_mul(k as u64 + 1) >> 56) as u8;
        }
        let runs = runs.into_iter().map(|(y, x0, long)| Run { y, x0, x1: x0 + long }).collect();
        let piece = Piece { runs };
        let place = place(baseline, x_height, lean);
        let reads = recognise(&ink, &piece, place);
        prop_assert_eq!(&reads, &recognise(&ink, &piece, place));
        if let Some(reads) = reads {
            let sum: f64 = reads.all().map(|(_, p)| p).sum();
            prop_assert!((sum - 1.0).abs() < 1e-12);
            prop_assert!(reads.all().all(|(_, p)| (0.0..=1.0).contains(&p)));
        }
    }
}

/// `cargo test -p metrics recogniser::of_crops -- --ignored --nocapture`
#[test]
#[ignore = "prints what a letter takes"]
fn what_a_letter_takes() {
    let crops = checked();
    let start = cpu_time::ProcessTime::now();
    let rounds = 20;
    let mut sum = 0.0;
    for _ in 0..rounds {
        sum += crops.iter().map(|c| of_crop(c).best().1).sum::<f64>();
    }
    let each = |start: cpu_time::ProcessTime| {
        1e3 * start.elapsed().as_secs_f64() / f64::from(rounds) / crops.len() as f64
    };
    let wide = each(start);
    let start = cpu_time::ProcessTime::now();
    for _ in 0..rounds {
        sum += crops
            .iter()
            .map(|c| f64::from(net::forward(c)[0]))
            .sum::<f64>();
    }
    println!(
        "{wide:.3} ms a letter, {:.3} with narrow registers ({sum:.1})",
        each(start)
    );
}
