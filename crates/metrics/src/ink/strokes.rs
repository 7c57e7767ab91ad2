//! What strokes say of the pen and of the camera: their width, their darkness and their blur.

use image::GrayImage;

use super::{PAPER, count_quantile};
use crate::ruling::{self, Rulings};
use crate::stats;

/// The grey of the middle of strokes away from rules. The mask may be one of every so many pixels
/// of every so many rows.
#[tracing::instrument(level = "trace", name = "stroke level", skip_all)]
pub(super) fn stroke_level(
    grey: &GrayImage,
    mask: &GrayImage,
    every: usize,
    rulings: &Rulings,
) -> f64 {
    let on_rule = ruling::cover(grey.dimensions(), rulings);
    let width = (grey.width() as usize).max(1);
    let rows = grey
        .as_raw()
        .chunks_exact(width)
        .zip(on_rule.as_raw().chunks_exact(width));
    let masks = mask.as_raw().chunks_exact((mask.width() as usize).max(1));
    let mut counts = [0u32; 256];
    for ((greys, on_rule), mask) in rows.step_by(every).zip(masks) {
        for (x, _) in mask.iter().enumerate().filter(|(_, ink)| **ink > 0) {
            let x = x * every;
            if on_rule[x] == 0 {
                counts[usize::from(greys[x])] += (every * every) as u32;
            }
        }
    }
    let total: u32 = counts.iter().sum();
    if total < 200 {
        return 0.5 * f64::from(PAPER);
    }
    f64::from(count_quantile(&counts, total / 4)).min(0.85 * f64::from(PAPER))
}

/// Median thickness of strokes: the shorter of the runs across and down through ink pixels.
#[tracing::instrument(level = "trace", name = "pen width", skip_all)]
pub(crate) fn pen_width(mask: &GrayImage) -> Option<f64> {
    let (w, h) = (mask.width() as usize, mask.height() as usize);
    let raw = mask.as_raw();
    let mut widths = Vec::new();
    for y in (2..h).step_by(5) {
        let mut x = 0;
        while x < w {
            let start = x;
            while x < w && raw[y * w + x] > 0 {
                x += 1;
            }
            if x > start {
                let middle = (start + x) / 2;
                let across = x - start;
                // Beyond the run's own length the way up or down changes nothing: a sheet of long
                // upright strokes is not walked over and over.
                let inked = |r: &usize| raw[r * w + middle] > 0;
                let up = (0..=y).rev().take(across).take_while(inked).count();
                let down = (y..h).take(across).take_while(inked).count();
                widths.push(across.min(up + down - 1) as f64);
            }
            x += 1;
        }
    }
    stats::median(&widths)
}

/// Standard deviation of the blur, from the steepest step at the sides of plain strokes: a sharp
/// edge of contrast c has, under blur s, a steepest slope of c / (s √2π).
#[tracing::instrument(level = "trace", name = "blur", skip_all)]
pub(super) fn blur(grey: &GrayImage, mask: &GrayImage, pen: f64) -> f64 {
    let (w, h) = (mask.width() as usize, mask.height() as usize);
    let (ink, shade) = (mask.as_raw(), grey.as_raw());
    let mut found = Vec::new();
    for y in (1..h).step_by(4) {
        let row = y * w;
        let mut x = 4;
        while x + 4 < w {
            let start = x;
            while x + 4 < w && ink[row + x] > 0 {
                x += 1;
            }
            let width = (x - start) as f64;
            if width > 0.6 * pen && width < 1.5 * pen {
                let dark = shade[row + start..row + x].iter().min().copied();
                let contrast = f64::from(PAPER) - f64::from(dark.unwrap_or(PAPER));
                let steep = (start - 3..start + 2)
                    .map(|k| f64::from(shade[row + k]) - f64::from(shade[row + k + 1]))
                    .fold(1.0, f64::max);
                found.push(contrast / steep / core::f64::consts::TAU.sqrt());
            }
            x += 1;
        }
    }
    // Strokes that lean or bend have softer sides: the sharper half is what blur leaves.
    stats::quantile(&found, 0.3).unwrap_or(1.0).clamp(0.3, 3.0)
}
