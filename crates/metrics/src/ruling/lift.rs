//! Takes printed lines out of the grey and out of the mask, leaving the ink that crosses them.

use image::{GrayImage, Luma};

use super::{Rule, Rulings, transposed};
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
        let mut turned = transposed(&out);
        for rule in &rulings.down {
            lift_one(&mut turned, rule, rulings.half, ink);
        }
        out = transposed(&turned);
    }
    out
}

fn lift_one(grey: &mut GrayImage, rule: &Rule, half: f64, ink: f64) {
    let w = grey.width() as usize;
    let window = ((half * 30.0) as usize).max(1);
    // All sections are taken before any of the line is lifted: they overlap.
    let stretches: Vec<Greys> = (0..w)
        .step_by(window)
        .map(|start| Greys::of(grey, rule, start..(start + window).min(w), half))
        .collect();
    for (k, start) in (0..w).step_by(window).enumerate() {
        // A wider stretch than the one lifted gives a steadier figure.
        let wide = &stretches[k.saturating_sub(1)..(k + 2).min(stretches.len())];
        let section = Greys::together(wide).section();
        for x in start..(start + window).min(w) {
            lift_column(grey, x, f64::from(rule.rows[x]), half, &section, ink);
        }
    }
}

/// A line's cross-section: how much darker than its paper it is, at rising distances from its middle
/// (pixels, + below).
type Section = Vec<(f64, f64)>;

/// The greys of a stretch of a line, at each half pixel from its middle, and of the paper beside it.
#[derive(Clone)]
struct Greys {
    steps: Vec<(f64, Counts)>,
    paper: Counts,
}

impl Greys {
    fn of(grey: &GrayImage, rule: &Rule, columns: core::ops::Range<usize>, half: f64) -> Self {
        let (w, h) = (grey.width() as usize, grey.height() as usize);
        let raw = grey.as_raw();
        // Steps to both sides of the one in the middle.
        let beside = (2.0 * half).ceil();
        let mut greys = Self {
            steps: vec![(0.0, Counts::NONE); 2 * beside as usize + 1],
            paper: Counts::NONE,
        };
        for x in columns {
            let middle = f64::from(rule.rows[x]);
            let first = (middle - half - 4.0).max(0.0) as usize;
            for y in first..((middle + half + 4.0).max(0.0) as usize).min(h) {
                let off = y as f64 + 0.5 - middle;
                let value = raw[y * w + x];
                if off.abs() <= half {
                    let (offs, counts) = &mut greys.steps[(2.0 * off + beside + 0.5) as usize];
                    *offs += off;
                    counts.add(value);
                } else if off.abs() > half + 1.0 {
                    greys.paper.add(value);
                }
            }
        }
        greys
    }

    fn together(stretches: &[Self]) -> Self {
        let mut all = stretches[0].clone();
        for more in &stretches[1..] {
            all.paper.include(&more.paper);
            for (sum, more) in all.steps.iter_mut().zip(&more.steps) {
                sum.0 += more.0;
                sum.1.include(&more.1);
            }
        }
        all
    }

    /// The line as most of the columns have it.
    fn section(&self) -> Section {
        let paper = self.paper.quantile(0.6).unwrap_or(f64::from(PAPER));
        let steps = self.steps.iter().filter_map(|(offs, counts)| {
            let value = counts.quantile(0.55)?;
            Some((offs / f64::from(counts.all), (paper - value).max(0.0)))
        });
        steps.collect()
    }
}

/// How often each grey is there.
#[derive(Clone)]
struct Counts {
    of: [u16; 256],
    all: u32,
}

impl Counts {
    const NONE: Self = Self {
        of: [0; 256],
        all: 0,
    };

    fn add(&mut self, grey: u8) {
        self.of[usize::from(grey)] += 1;
        self.all += 1;
    }

    fn include(&mut self, more: &Self) {
        for (sum, more) in self.of.iter_mut().zip(&more.of) {
            *sum += more;
        }
        self.all += more.all;
    }

    /// The grey below which a share of them lies, as [`stats::quantile`] has it.
    fn quantile(&self, share: f64) -> Option<f64> {
        let place = share * f64::from(self.all.checked_sub(1)?);
        let mut below = 0;
        let mut found = None;
        for (grey, &count) in self.of.iter().enumerate().filter(|(_, count)| **count > 0) {
            below += u32::from(count);
            match found {
                // The grey of the next place, if it is not the same one's.
                Some(low) => return Some(low + (grey as f64 - low) * place.fract()),
                None if f64::from(below) > place + 1.0 => return Some(grey as f64),
                None if f64::from(below) > place => found = Some(grey as f64),
                None => {}
            }
        }
        found
    }
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
