//! Takes printed lines out of the grey and out of the mask, leaving the ink that crosses them.

use image::{GrayImage, Luma};

use super::{Rule, Rulings, transpose};
use crate::ink::PAPER;
use crate::stats;

/// Gives the paper its brightness back under printed lines, leaving the ink that crosses them.
#[tracing::instrument(level = "trace", name = "lift", skip_all)]
pub(crate) fn lift(evened: &GrayImage, rulings: &Rulings, ink: f64) -> GrayImage {
    let mut out = evened.clone();
    for rule in &rulings.across {
        lift_one(&mut out, rule, rulings.half, ink);
    }
    if !rulings.down.is_empty() {
        let mut turned = transpose(&out);
        for rule in &rulings.down {
            lift_one(&mut turned, rule, rulings.half, ink);
        }
        out = transpose(&turned);
    }
    out
}

/// Half-pixel steps of a line's cross-section, to both sides.
const STEPS: usize = 2 * 2 * 8 + 1;

fn lift_one(grey: &mut GrayImage, rule: &Rule, half: f64, ink: f64) {
    let w = grey.width() as usize;
    let window = (half * 30.0) as usize;
    let starts: Vec<usize> = (0..w).step_by(window.max(1)).collect();
    // All sections are taken before any of the line is lifted: they overlap.
    let sections: Vec<Section> = starts
        .iter()
        .map(|&start| cross_section(grey, rule, start..(start + window).min(w), half))
        .collect();
    for (&start, dark) in starts.iter().zip(&sections) {
        for x in start..(start + window).min(w) {
            lift_column(grey, x, f64::from(rule.rows[x]), half, dark, ink);
        }
    }
}

/// A line's cross-section: how much darker than its paper it is, at rising distances from its middle
/// (pixels, + below).
type Section = Vec<(f64, f64)>;

/// Measures a line's cross-section over some columns, as most of them have it.
fn cross_section(
    grey: &GrayImage,
    rule: &Rule,
    columns: core::ops::Range<usize>,
    half: f64,
) -> Section {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    // A wider stretch than the one lifted gives a steadier figure.
    let wide = columns.start.saturating_sub(columns.len())..(columns.end + columns.len()).min(w);
    let raw = grey.as_raw();
    let mut found: Vec<(f64, Vec<f64>)> = vec![(0.0, Vec::new()); STEPS];
    let mut paper = Vec::new();
    for x in wide {
        let middle = f64::from(rule.rows[x]);
        let first = (middle - half - 4.0).max(0.0) as usize;
        for y in first..((middle + half + 4.0).max(0.0) as usize).min(h) {
            let off = y as f64 + 0.5 - middle;
            let value = f64::from(raw[y * w + x]);
            if off.abs() <= half {
                let step = (off * 2.0).round() as isize + (STEPS / 2) as isize;
                if let Some(cell) = found.get_mut(step.max(0) as usize) {
                    cell.0 += off;
                    cell.1.push(value);
                }
            } else if off.abs() > half + 1.0 {
                paper.push(value);
            }
        }
    }
    let paper = stats::quantile(&paper, 0.6).unwrap_or(f64::from(PAPER));
    found
        .iter()
        .filter_map(|(offs, values)| {
            let value = stats::quantile(values, 0.55)?;
            Some((offs / values.len() as f64, (paper - value).max(0.0)))
        })
        .collect()
}

fn lift_column(
    grey: &mut GrayImage,
    x: usize,
    middle: f64,
    half: f64,
    dark: &[(f64, f64)],
    ink: f64,
) {
    let h = grey.height() as usize;
    let first = (middle - half).max(0.0) as usize;
    for y in first..((middle + half + 1.0).max(0.0) as usize).min(h) {
        let off = y as f64 + 0.5 - middle;
        if off.abs() > half {
            continue;
        }
        let missing = stats::between(dark, off);
        let pixel = grey.get_pixel_mut(x as u32, y as u32);
        let value = f64::from(pixel[0]);
        // Ink hides as much of the line as it covers of the paper.
        let printed = f64::from(PAPER) - missing;
        let covered = ((printed - value) / (printed - ink).max(25.0)).clamp(0.0, 1.0);
        let lifted = value + missing * (1.0 - covered);
        *pixel = Luma([(lifted.min(value.max(f64::from(PAPER))) + 0.5) as u8]);
    }
}

/// 255 on and beside printed lines.
pub(crate) fn cover(size: (u32, u32), rulings: &Rulings) -> GrayImage {
    let mut out = GrayImage::new(size.0, size.1);
    let reach = rulings.half + 1.0;
    for rule in &rulings.across {
        for (x, &row) in rule.rows.iter().enumerate().take(size.0 as usize) {
            band(row, reach, size.1).for_each(|y| out.put_pixel(x as u32, y, Luma([255])));
        }
    }
    for rule in &rulings.down {
        for (y, &column) in rule.rows.iter().enumerate().take(size.1 as usize) {
            band(column, reach, size.0).for_each(|x| out.put_pixel(x, y as u32, Luma([255])));
        }
    }
    out
}

fn band(middle: f32, reach: f64, end: u32) -> core::ops::Range<u32> {
    let middle = f64::from(middle);
    let first = (middle - reach).max(0.0) as u32;
    first..((middle + reach).max(0.0) as u32).min(end)
}

/// Takes away what is left of lines in the mask: runs no thicker than a line, lying on it, with
/// nothing above or below. What crosses a line is thicker and stays whole.
#[tracing::instrument(level = "trace", name = "erase rests", skip_all)]
pub(crate) fn erase_rests(mask: &mut GrayImage, rulings: &Rulings) {
    for rule in &rulings.across {
        for (x, &row) in rule.rows.iter().enumerate() {
            erase_at(mask, x, f64::from(row), rulings.half, false);
        }
    }
    for rule in &rulings.down {
        for (y, &column) in rule.rows.iter().enumerate() {
            erase_at(mask, y, f64::from(column), rulings.half, true);
        }
    }
}

fn erase_at(mask: &mut GrayImage, along: usize, middle: f64, half: f64, upright: bool) {
    let end = if upright { mask.width() } else { mask.height() };
    let first = (middle - half).max(0.0) as u32;
    let last = ((middle + half).max(0.0) as u32).min(end.saturating_sub(1));
    let pixel = |at: u32| {
        if upright {
            (at, along as u32)
        } else {
            (along as u32, at)
        }
    };
    let ink = |mask: &GrayImage, at: u32| {
        let (x, y) = pixel(at);
        mask.get_pixel(x, y)[0] > 0
    };
    if first >= last || last + 1 >= end {
        return;
    }
    let crossed = (first > 0 && ink(mask, first - 1) && ink(mask, first))
        || (ink(mask, last) && ink(mask, last + 1));
    let thick = (first..=last).filter(|&at| ink(mask, at)).count();
    // The foot of a letter may lie along a line: what is as thick as a stroke is left.
    if crossed || thick as f64 > 0.5 * half {
        return;
    }
    for at in first..=last {
        let (x, y) = pixel(at);
        mask.put_pixel(x, y, Luma([0]));
    }
}
