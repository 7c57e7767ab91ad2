//! How wide the edges of ink are: the measure of blur.

use image::GrayImage;

use crate::glance::Light;

/// Edges that the figure rests on at least, in each direction.
const LEAST_EDGES: usize = 60;
/// Least contrast of an edge, share of the paper's level.
const LEAST_CONTRAST: f64 = 0.12;
/// Rows (and columns) looked at: one in so many.
const STRIDE: usize = 5;
/// How far from an edge its two levels are looked for, mm.
const REACH: f64 = 0.7;

/// Width of a typical sharp edge in mm, contrast by steepest slope, in the worse of the two
/// directions; `None` where there are too few edges in both.
#[tracing::instrument(level = "trace", name = "fit: edges", skip_all)]
pub(super) fn width(grey: &GrayImage, light: &Light, px_per_mm: f64) -> Option<f64> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let raw = grey.as_raw();
    let margin = (6.0 * px_per_mm) as usize;
    let reach = (REACH * px_per_mm).round().max(2.0) as usize;
    let inside = |n: usize| (margin..n.saturating_sub(margin)).step_by(STRIDE);
    let mut across = Vec::new();
    let mut line = Vec::new();
    for y in inside(h) {
        let row = &raw[y * w..(y + 1) * w];
        line_edges(row, reach, margin, |x| light.at(x, y), &mut across);
    }
    let mut down = Vec::new();
    for x in inside(w) {
        line.clear();
        line.extend(raw[x..].iter().step_by(w).copied());
        line_edges(&line, reach, margin, |y| light.at(x, y), &mut down);
    }
    let both = [across, down].map(typical);
    let worst = both.into_iter().flatten().fold(f64::NEG_INFINITY, f64::max);
    worst.is_finite().then_some(worst / px_per_mm)
}

/// Widths, pixels, of the edges along one row or column: where the slope is steeper than
/// everywhere within reach.
fn line_edges(
    line: &[u8],
    reach: usize,
    margin: usize,
    paper: impl Fn(usize) -> u8,
    widths: &mut Vec<f64>,
) {
    let slope = |i: usize| i32::from(line[i + 1]) - i32::from(line[i - 1]);
    let end = line.len().saturating_sub(margin.max(reach + 2));
    let mut i = margin.max(reach + 2);
    while i < end {
        let here = slope(i).abs();
        if here < 12 || here < slope(i - 1).abs() || here < slope(i + 1).abs() {
            i += 1;
            continue;
        }
        let around = &line[i - reach..=i + reach];
        let (low, high) = around
            .iter()
            .fold((255, 0), |(low, high), &v| (v.min(low), v.max(high)));
        let contrast = f64::from(high) - f64::from(low);
        if contrast >= LEAST_CONTRAST * f64::from(paper(i)) && contrast >= 16.0 {
            widths.push(2.0 * contrast / f64::from(here));
        }
        i += reach;
    }
}

/// The width that a fifth of the edges stay below: edges that the stroke crosses at a slant are
/// wider, and say nothing of the lens.
fn typical(mut widths: Vec<f64>) -> Option<f64> {
    if widths.len() < LEAST_EDGES {
        return None;
    }
    let place = widths.len() / 5;
    Some(*widths.select_nth_unstable_by(place, f64::total_cmp).1)
}
