//! Which way up the writing stands.
//!
//! Three signs, each known of Latin script at large (common practice, no source): more letters
//! reach up than down, lines begin at one margin and end where they may, and a page is filled
//! from the top.

use image::GrayImage;

use crate::glance::{Light, Strokes};

/// Width of the strips in which lines are looked for, mm: a slope does not smear them.
const STRIP: f64 = 24.0;
/// Heights that the body of small letters may have, mm.
const BODY: core::ops::RangeInclusive<f64> = 1.0..=7.0;
/// Least ink for a verdict, mm².
const LEAST_INK: f64 = 20.0;

/// How much speaks for this way up: positive for it, negative for upside down, about -1 to 1; 0
/// where nothing can be said. The weights are those that told drawn pages from the same pages
/// upside down.
#[tracing::instrument(level = "trace", name = "upright", skip_all)]
pub(super) fn upright_evidence(grey: &GrayImage, px_per_mm: f64) -> f64 {
    let light = Light::of(grey, px_per_mm);
    let strokes = Strokes::of(grey, &light, px_per_mm);
    if strokes.area() < LEAST_INK {
        return 0.0;
    }
    let reach = reach_evidence(&strokes);
    let margin = margin_evidence(&strokes);
    let fill = fill_evidence(&strokes);
    0.5 * (3.0 * reach).clamp(-1.0, 1.0) + 0.35 * margin + 0.15 * fill
}

/// Ink just above the bodies of small letters against ink just below.
fn reach_evidence(strokes: &Strokes) -> f64 {
    let strip = (STRIP / strokes.cell) as usize;
    let (mut above, mut below) = (0.0, 0.0);
    for left in (0..strokes.width).step_by(strip) {
        let right = (left + strip).min(strokes.width);
        let profile: Vec<f64> = (0..strokes.height)
            .map(|y| {
                let row = &strokes.row(y)[left..right];
                row.iter().filter(|w| **w).count() as f64
            })
            .collect();
        for (top, bottom) in bodies(&profile, strokes.cell) {
            let height = bottom - top;
            let reach = (height * 3 / 4).max(2);
            above += profile[top.saturating_sub(reach)..top].iter().sum::<f64>();
            below += profile[bottom..(bottom + reach).min(profile.len())]
                .iter()
                .sum::<f64>();
        }
    }
    balance(above, below)
}

/// Runs of rows, from and to, that are full enough to be bodies of letters.
fn bodies(profile: &[f64], cell: f64) -> Vec<(usize, usize)> {
    let mut filled: Vec<f64> = profile.iter().copied().filter(|v| *v > 0.0).collect();
    if filled.len() < 8 {
        return Vec::new();
    }
    let high = filled.len() * 9 / 10;
    let level = 0.5 * *filled.select_nth_unstable_by(high, f64::total_cmp).1;
    let mut found = Vec::new();
    let mut start = None;
    for (y, &v) in profile.iter().chain([&0.0]).enumerate() {
        match (start, v >= level) {
            (None, true) => start = Some(y),
            (Some(from), false) => {
                if BODY.contains(&((y - from) as f64 * cell)) {
                    found.push((from, y));
                }
                start = None;
            }
            _ => {}
        }
    }
    found
}

/// How much more even the left ends of the lines are than the right ends.
fn margin_evidence(strokes: &Strokes) -> f64 {
    let band = (4.0 / strokes.cell) as usize;
    let (mut lefts, mut rights) = (Vec::new(), Vec::new());
    for top in (0..strokes.height).step_by(band) {
        let rows = top..(top + band).min(strokes.height);
        let ends = rows.filter_map(|y| {
            let row = strokes.row(y);
            let left = row.iter().position(|w| *w)?;
            let right = row.iter().rposition(|w| *w)?;
            Some((left as f64, right as f64))
        });
        let (left, right) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |a, b| {
            (a.0.min(b.0), a.1.max(b.1))
        });
        if left <= right {
            lefts.push(left);
            rights.push(right);
        }
    }
    if lefts.len() < 4 {
        return 0.0;
    }
    let one_cell = 1.0 / strokes.cell;
    balance(
        middle_deviation(&mut rights) + one_cell,
        middle_deviation(&mut lefts) + one_cell,
    )
}

/// Median distance from the median.
fn middle_deviation(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    let median = *values.select_nth_unstable_by(middle, f64::total_cmp).1;
    for v in values.iter_mut() {
        *v = (*v - median).abs();
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The empty part of the page below the writing against that above.
fn fill_evidence(strokes: &Strokes) -> f64 {
    let is_written = |y: &usize| strokes.row(*y).iter().filter(|w| **w).count() >= 3;
    let first = (0..strokes.height).find(is_written);
    let last = (0..strokes.height).rev().find(is_written);
    match (first, last) {
        (Some(first), Some(last)) => balance((strokes.height - last) as f64, first as f64),
        _ => 0.0,
    }
}

fn balance(a: f64, b: f64) -> f64 {
    if a + b > 0.0 { (a - b) / (a + b) } else { 0.0 }
}
