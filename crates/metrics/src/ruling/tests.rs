//! Rulings drawn in code, found again.

use image::{GrayImage, Luma};

use super::{Level, Print, Rule, find, find_pitch, fit_pitch, lift};
use crate::ink;
use crate::page::tests::grain;

const PX_PER_MM: f64 = 8.0;

/// Lines 0.25 mm thick at the given rows (mm) on a sheet of the given size, with their bend in
/// pixels as a function of the column.
fn ruled(size: (u32, u32), rows: &[f64], bend: impl Fn(f64) -> f64) -> GrayImage {
    GrayImage::from_fn(size.0, size.1, |x, y| {
        let off = bend(f64::from(x) + 0.5);
        let dark = rows
            .iter()
            .map(|mm| {
                let away = (f64::from(y) + 0.5 - off - mm * PX_PER_MM).abs();
                (0.125 * PX_PER_MM - away + 0.5).clamp(0.0, 1.0)
            })
            .fold(0.0, f64::max);
        Luma([(225.0 - 60.0 * dark).round() as u8])
    })
}

fn every(pitch: f64, until: f64) -> Vec<f64> {
    (1..)
        .map(|k| 7.3 + f64::from(k) * pitch)
        .take_while(|y| *y < until)
        .collect()
}

fn middles(rules: &[Rule]) -> Vec<f64> {
    rules.iter().map(Rule::middle).collect()
}

#[test]
fn every_pitch_that_paper_is_ruled_with_is_found() {
    // Squares 5, US narrow, college and wide, DIN 16552-1 and UK pitches; secondary copies and
    // common practice, in millimetres.
    for pitch in [5.0, 6.0, 6.35, 7.0, 7.14, 8.0, 8.73, 9.0, 10.0, 12.0, 15.0] {
        let sheet = ruled((640, 1000), &every(pitch, 120.0), |_| 0.0);
        let evened = ink::even(&sheet, PX_PER_MM);
        let found = find(&evened, PX_PER_MM, Print::default());
        let rows = middles(&found.across);
        let unknown = find_pitch(&rows, PX_PER_MM).expect("a pitch").px / PX_PER_MM;
        assert!((unknown / pitch - 1.0).abs() < 0.003, "{pitch}: {unknown}");
        let known = fit_pitch(&rows, pitch * 1.02 * PX_PER_MM)
            .expect("a pitch")
            .px
            / PX_PER_MM;
        assert!((known / pitch - 1.0).abs() < 0.003, "{pitch}: {known}");
    }
}

#[test]
fn groups_of_lines_repeat_by_their_own_pitch() {
    for inner in [2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0] {
        let pitch = 3.0 * inner + 4.0;
        let rows: Vec<f64> = every(pitch, 100.0)
            .into_iter()
            .flat_map(|y| [y, y + inner, y + 2.0 * inner, y + 3.0 * inner])
            .collect();
        let evened = ink::even(&ruled((640, 1000), &rows, |_| 0.0), PX_PER_MM);
        let print = Print {
            across: Some(pitch * PX_PER_MM),
            down: None,
        };
        let found = find(&evened, PX_PER_MM, print);
        let fit = fit_pitch(&middles(&found.across), pitch * PX_PER_MM).expect("a pitch");
        let mm = fit.px / PX_PER_MM;
        assert!((mm / pitch - 1.0).abs() < 0.003, "{pitch}: {mm}");
    }
}

#[test]
fn a_bent_line_is_followed_and_made_level() {
    let bend = |x: f64| 6.0 * (x / 640.0 * 3.0).sin();
    let evened = ink::even(&ruled((640, 800), &every(8.0, 95.0), bend), PX_PER_MM);
    let found = find(&evened, PX_PER_MM, Print::default());
    assert_eq!(found.across.len(), every(8.0, 95.0).len());
    let level = Level::new(&found.across);
    for (rule, mm) in found.across.iter().zip(every(8.0, 95.0)) {
        for x in [60.0, 200.0, 320.0, 450.0, 600.0] {
            let drawn = mm * PX_PER_MM + bend(x);
            assert!(
                (rule.at(x) - drawn).abs() < 0.4,
                "{} for {drawn}",
                rule.at(x)
            );
            assert!((level.row(x, drawn) - rule.middle()).abs() < 0.5);
        }
    }
}

#[test]
fn a_stroke_that_crosses_a_line_stays_whole() {
    let rows = every(8.0, 95.0);
    let mut sheet = ruled((640, 800), &rows, |_| 0.0);
    for y in 180..420 {
        for x in 300..304 {
            sheet.put_pixel(x, y, Luma([60]));
        }
    }
    let evened = ink::even(&sheet, PX_PER_MM);
    let found = find(&evened, PX_PER_MM, Print::default());
    let ink = ink::find(&evened, &found, PX_PER_MM);
    for y in 182..418 {
        assert!(ink.mask.get_pixel(301, y)[0] > 0, "cut at row {y}");
    }
    let elsewhere = |x: u32| !(290..314).contains(&x);
    let left = ink
        .mask
        .enumerate_pixels()
        .filter(|(x, _, p)| elsewhere(*x) && p[0] > 0);
    assert_eq!(left.count(), 0);
    let lifted = lift(&evened, &found, 60.0);
    let paper = f64::from(ink::PAPER);
    for rule in &found.across {
        let grey = f64::from(lifted.get_pixel(500, rule.middle() as u32)[0]);
        assert!((grey - paper).abs() < 6.0, "{grey} on a lifted line");
    }
}

#[test]
fn lines_that_are_hardly_there_are_found_by_their_known_distance() {
    let rows = every(8.0, 120.0);
    // Eight levels to either side.
    let grain = |x, y| 8.0 * grain(x, y);
    let mut sheet = ruled((1200, 1000), &rows, |_| 0.0);
    for (x, y, pixel) in sheet.enumerate_pixels_mut() {
        // An eighth as dark as drawn, under a grain of as much.
        let faint = 225.0 - (225.0 - f64::from(pixel[0])) / 8.0 + grain(x, y);
        *pixel = Luma([faint.round() as u8]);
    }
    let evened = ink::even(&sheet, PX_PER_MM);
    let print = |pitch: f64| Print {
        across: Some(pitch * PX_PER_MM),
        down: None,
    };
    let found = find(&evened, PX_PER_MM, print(8.1));
    assert_eq!(found.across.len(), rows.len());
    for (rule, mm) in found.across.iter().zip(rows) {
        let off = rule.middle() / PX_PER_MM - mm;
        assert!(off.abs() < 0.15, "{off} mm off at {mm}");
    }
    // Nothing repeats after another distance, and a page without lines has none.
    assert!(find(&evened, PX_PER_MM, print(11.3)).across.len() < 3);
    let bare = GrayImage::from_fn(1200, 1000, |x, y| Luma([(225.0 + grain(x, y)) as u8]));
    let bare = find(&ink::even(&bare, PX_PER_MM), PX_PER_MM, print(8.0));
    assert!(bare.across.is_empty());
}
