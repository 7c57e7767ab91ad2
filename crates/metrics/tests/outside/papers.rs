//! Sizes of paper and pitches of rulings, drawn, photographed and found the whole way.
//!
//! Sizes: ISO 216 (A4 210 × 297 mm, A5 148 × 210 mm); US Letter 8.5 × 11 in (ANSI/ASME Y14.1).
//! Pitches: DIN 16552-1 (6, 5, 4 mm in four lines, 10 and 9 mm single, squares of 5 and 7 mm; from a
//! secondary source); US wide 11/32 in, college 9/32 in, narrow 1/4 in; Japan 7, 6, 5, 8 mm; UK feint
//! 8 mm, early years 12 to 15 mm (common practice, no source).

use demo::paper::Sheet;
use units::MeasureName::{Drift, XHeight};
use units::{Frame, Mm, Paper, Ruling, ScaleSource};

use crate::photo::{expectation, figure, held, photograph, read};
use crate::tables::Font;
use crate::type_set::set;

/// The pitches that pages are ruled with, mm.
const PITCHES: [f64; 11] = [5.0, 6.0, 6.35, 7.0, 7.14, 8.0, 8.73, 9.0, 10.0, 12.0, 15.0];
/// Distances of the inner lines of four, mm.
const INNER: [f64; 7] = [2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0];

/// Reads a written sheet of this ruling and holds what was found against it.
fn holds(paper: Paper, ruling: Ruling) {
    let sheet = Sheet::new(paper, ruling);
    let (width, height) = paper.size();
    let pitch = ruling.line_pitch().expect("the sheet is ruled").0;
    let x_height = match ruling {
        Ruling::FourLine { inner, .. } => inner.0,
        _ => (0.34 * pitch).clamp(2.0, 3.6),
    };
    let lines: Vec<f64> = sheet.written_lines(x_height).take(8).collect();
    let set = set(Font::Mali, x_height, &lines, sheet.room());
    // Six pixels a millimetre: a phone's smaller picture.
    let px = |mm: f64| (6.5 * mm) as u32;
    let camera = held(px(width.0), px(height.0));
    let bytes = photograph(&sheet, &set.writing, &camera);
    let (page, reading) = read(&bytes, &expectation(&sheet, set.text.clone()));
    let what = format!("{paper:?}, {ruling:?}");

    let off = corners_off(&page.frame, &camera, sheet.size());
    let found = reading.ruling.as_ref().map(|found| found.pitch.0);
    let x = figure(&reading, XHeight).map(|f| f.0).unwrap_or(f64::NAN);
    let drift = figure(&reading, Drift).map(|f| f.0).unwrap_or(f64::NAN);
    println!(
        "{what}: pitch {found:?}, scale {:?} {:.4} × {:.4}, corners {off:.2} mm off, x-height {:+.1} %, \
         drift {drift:.3}°",
        reading.frame.scale_source,
        reading.frame.width.0 / width.0,
        reading.frame.height.0 / height.0,
        100.0 * (x / set.x_height - 1.0),
    );
    let within = |value: f64, truth: f64, share: f64| (value / truth - 1.0).abs() <= share;
    assert!(
        found.is_some_and(|found| within(found, pitch, 0.003)),
        "{what}: pitch {found:?}"
    );
    assert_eq!(reading.frame.scale_source, ScaleSource::Ruling, "{what}");
    assert!(
        within(reading.frame.width.0, width.0, 0.004),
        "{what}: {:?}",
        reading.frame.width
    );
    assert!(
        within(reading.frame.height.0, height.0, 0.004),
        "{what}: {:?}",
        reading.frame.height
    );
    assert!(off < 0.7, "{what}: corners {off} mm off");
    // Four tenths of a pixel of the photograph.
    assert!(
        (x - set.x_height).abs() <= 0.06,
        "{what}: x-height {x}, {}",
        set.x_height
    );
    assert!(drift.abs() < 0.08, "{what}: drift {drift}");
    assert_eq!(reading.lines.len(), set.text.len(), "{what}");
}

/// How far the found corner that is farthest off lies from the true one, mm.
fn corners_off(frame: &Frame, camera: &demo::camera::Camera, size: (f64, f64)) -> f64 {
    let view = camera.view(size);
    let (a, b) = (view.apply((0.0, 0.0)), view.apply((size.0, 0.0)));
    let px_per_mm = (b.0 - a.0).hypot(b.1 - a.1) / size.0;
    let found = frame
        .to_photo
        .as_ref()
        .expect("the photograph is known")
        .corners();
    demo::plane::corners(size)
        .into_iter()
        .zip(found)
        .map(|(corner, found)| {
            let truth = view.apply(corner);
            (truth.0 - found.0).hypot(truth.1 - found.1) / px_per_mm
        })
        .fold(0.0, f64::max)
}

fn lines(pitch: f64) -> Ruling {
    Ruling::Lines { pitch: Mm(pitch) }
}

#[test]
fn every_pitch_is_found_on_a5() {
    PITCHES
        .into_iter()
        .for_each(|pitch| holds(Paper::A5, lines(pitch)));
}

#[test]
fn pitches_are_found_on_a4() {
    [5.0, 8.0, 12.0]
        .into_iter()
        .for_each(|pitch| holds(Paper::A4, lines(pitch)));
}

#[test]
fn us_pitches_are_found_on_us_letter() {
    [6.35, 7.14, 8.73]
        .into_iter()
        .for_each(|pitch| holds(Paper::UsLetter, lines(pitch)));
}

#[test]
fn inner_lines_of_every_distance_are_found() {
    for inner in INNER {
        let ruling = Ruling::FourLine {
            pitch: Mm(3.0 * inner + 4.4),
            inner: Mm(inner),
        };
        holds(Paper::A5, ruling);
    }
}

#[test]
fn squares_are_found() {
    for (side, every) in [(5.0, 2), (7.0, 1), (8.0, 1)] {
        let side = Mm(side);
        holds(Paper::A5, Ruling::Squares { side, every });
    }
}
