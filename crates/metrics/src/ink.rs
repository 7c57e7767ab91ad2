//! `Page` → even light → ink: the light is evened, rulings are lifted out, and what is left is
//! told apart from the paper.

use image::{GrayImage, Luma};

use crate::ruling::{self, Rulings};
use crate::stats;

/// The grey that paper has once the light is evened.
pub const PAPER: u8 = 230;

/// Window, weight and range of Sauvola and Pietikäinen (2000).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sauvola {
    /// Side of the square window in pixels; odd.
    pub window: u32,
    /// Weight of the deviation.
    pub k: f64,
    /// Largest deviation that is thought possible.
    pub range: f64,
}

impl Sauvola {
    /// The threshold for a window of the given mean and standard deviation.
    pub fn threshold(&self, mean: f64, deviation: f64) -> f64 {
        mean * (1.0 + self.k * (deviation / self.range - 1.0))
    }
}

/// The writing, free of light and of what was printed on the sheet.
#[derive(Debug, Clone)]
pub struct Ink {
    /// Evened grey without rulings; paper is [`PAPER`].
    pub grey: GrayImage,
    /// 255 where there is ink.
    pub mask: GrayImage,
    /// The grey of a typical stroke's middle.
    pub level: f64,
    /// Typical stroke width in pixels.
    pub pen: f64,
    /// Blur of the photograph and the camera: standard deviation in pixels.
    pub blur: f64,
}

/// Divides the paper's own brightness out, so that paper is [`PAPER`] everywhere.
#[tracing::instrument(level = "trace", name = "even", skip_all)]
pub fn even(grey: &GrayImage, px_per_mm: f64) -> GrayImage {
    let block = (1.2 * px_per_mm).round().max(2.0) as u32;
    let (w, h) = grey.dimensions();
    if w == 0 || h == 0 {
        return grey.clone();
    }
    let (bw, bh) = (w.div_ceil(block) as usize, h.div_ceil(block) as usize);
    let bright = block_brightness(grey, block, bw, bh);
    let closed = close(&bright, bw, bh);
    let paper = box_mean(&closed, bw, bh);
    let across: Vec<(usize, usize, f32)> = (0..w).map(|x| between(x, block, bw)).collect();
    let raw = grey.as_raw();
    let mut out = GrayImage::new(w, h);
    let pixels: &mut [u8] = &mut out;
    for y in 0..h {
        let (r0, r1, fy) = between(y, block, bh);
        let row = y as usize * w as usize;
        for (x, &(c0, c1, fx)) in across.iter().enumerate() {
            let top = paper[r0 * bw + c0] * (1.0 - fx) + paper[r0 * bw + c1] * fx;
            let low = paper[r1 * bw + c0] * (1.0 - fx) + paper[r1 * bw + c1] * fx;
            let here = (top * (1.0 - fy) + low * fy).max(1.0);
            let value = f32::from(raw[row + x]) / here * f32::from(PAPER);
            pixels[row + x] = (value + 0.5).min(255.0) as u8;
        }
    }
    out
}

/// The two blocks a pixel lies between, and how far it is on the way to the second.
fn between(at: u32, block: u32, blocks: usize) -> (usize, usize, f32) {
    let place = (at as f32 + 0.5) / block as f32 - 0.5;
    let first = place.floor().max(0.0);
    let first_index = (first as usize).min(blocks - 1);
    (
        first_index,
        (first_index + 1).min(blocks - 1),
        (place - first).clamp(0.0, 1.0),
    )
}

fn block_brightness(grey: &GrayImage, block: u32, bw: usize, bh: usize) -> Vec<f32> {
    let (w, h) = grey.dimensions();
    let raw = grey.as_raw();
    let mut out = Vec::with_capacity(bw * bh);
    for by in 0..bh as u32 {
        for bx in 0..bw as u32 {
            let mut counts = [0u32; 256];
            let (x1, y1) = (((bx + 1) * block).min(w), ((by + 1) * block).min(h));
            for y in by * block..y1 {
                for x in bx * block..x1 {
                    counts[raw[(y * w + x) as usize] as usize] += 1;
                }
            }
            let total: u32 = counts.iter().sum();
            out.push(count_quantile(&counts, total * 7 / 10));
        }
    }
    out
}

fn count_quantile(counts: &[u32; 256], rank: u32) -> f32 {
    let mut below = 0;
    for (value, count) in counts.iter().enumerate() {
        below += count;
        if below > rank {
            return value as f32;
        }
    }
    255.0
}

/// Blocks that a dark patch may be wide and still be filled.
const REACH: usize = 2;

/// A closing: fills what is dark and smaller than five blocks (writing) and keeps shadows. The
/// outermost blocks are repeated outwards so that a slope of light keeps its ends.
fn close(values: &[f32], w: usize, h: usize) -> Vec<f32> {
    let (pw, ph) = (w + 2 * REACH, h + 2 * REACH);
    let inside = |at: usize, end: usize| at.saturating_sub(REACH).min(end - 1);
    let padded: Vec<f32> = (0..pw * ph)
        .map(|i| values[inside(i / pw, h) * w + inside(i % pw, w)])
        .collect();
    let closed = spread(&spread(&padded, pw, ph, f32::max), pw, ph, f32::min);
    (0..w * h)
        .map(|i| closed[(i / w + REACH) * pw + i % w + REACH])
        .collect()
}

fn spread(values: &[f32], w: usize, h: usize, pick: fn(f32, f32) -> f32) -> Vec<f32> {
    let mut rows = values.to_vec();
    for y in 0..h {
        for x in 0..w {
            let run = &values[y * w + x.saturating_sub(REACH)..=y * w + (x + REACH).min(w - 1)];
            rows[y * w + x] = run.iter().copied().fold(run[0], pick);
        }
    }
    let mut out = rows.clone();
    for y in 0..h {
        for x in 0..w {
            out[y * w + x] = (y.saturating_sub(REACH)..=(y + REACH).min(h - 1))
                .map(|r| rows[r * w + x])
                .fold(rows[y * w + x], pick);
        }
    }
    out
}

fn box_mean(values: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut out = values.to_vec();
    for y in 0..h {
        for x in 0..w {
            let (mut sum, mut n) = (0.0, 0.0);
            for r in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                for c in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                    sum += values[r * w + c];
                    n += 1.0;
                }
            }
            out[y * w + x] = sum / n;
        }
    }
    out
}

/// Marks as 255 what is at or below the threshold of its surroundings; windows are cut off at the
/// picture's edge.
#[tracing::instrument(level = "trace", name = "binarise", skip_all)]
pub fn binarise(grey: &GrayImage, how: Sauvola) -> GrayImage {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let half = (how.window / 2) as usize;
    let raw = grey.as_raw();
    let mut out = GrayImage::new(w as u32, h as u32);
    if w == 0 || h == 0 {
        return out;
    }
    // Sums of the columns inside the window's rows, moved down row by row: all integers, exact.
    let (mut sums, mut squares) = (vec![0u64; w], vec![0u64; w]);
    let include = |y: usize, sign: bool, sums: &mut Vec<u64>, squares: &mut Vec<u64>| {
        for (x, &v) in raw[y * w..(y + 1) * w].iter().enumerate() {
            let v = u64::from(v);
            if sign {
                sums[x] += v;
                squares[x] += v * v;
            } else {
                sums[x] -= v;
                squares[x] -= v * v;
            }
        }
    };
    for y in 0..half.min(h) {
        include(y, true, &mut sums, &mut squares);
    }
    let pixels: &mut [u8] = &mut out;
    for y in 0..h {
        if y + half < h {
            include(y + half, true, &mut sums, &mut squares);
        }
        if y > half {
            include(y - half - 1, false, &mut sums, &mut squares);
        }
        let rows = (y + half).min(h - 1) - y.saturating_sub(half) + 1;
        let (mut sum, mut square) = (0u64, 0u64);
        for x in 0..half.min(w) {
            sum += sums[x];
            square += squares[x];
        }
        for x in 0..w {
            if x + half < w {
                sum += sums[x + half];
                square += squares[x + half];
            }
            if x > half {
                sum -= sums[x - half - 1];
                square -= squares[x - half - 1];
            }
            let n = (rows * ((x + half).min(w - 1) - x.saturating_sub(half) + 1)) as f64;
            let mean = sum as f64 / n;
            let deviation = (square as f64 / n - mean * mean).max(0.0).sqrt();
            if f64::from(raw[y * w + x]) <= how.threshold(mean, deviation) {
                pixels[y * w + x] = 255;
            }
        }
    }
    out
}

/// Otsu's threshold (1979): ink is what is at or below it. `None` for a picture of one grey.
pub fn otsu(grey: impl Iterator<Item = u8>) -> Option<u8> {
    let mut counts = [0u64; 256];
    grey.for_each(|v| counts[v as usize] += 1);
    let total: u64 = counts.iter().sum();
    let all: u64 = counts.iter().zip(0u64..).map(|(c, v)| c * v).sum();
    let (mut below, mut sum) = (0u64, 0u64);
    let mut best: Option<(f64, u8)> = None;
    for (value, &count) in counts.iter().enumerate() {
        below += count;
        sum += count * value as u64;
        let above = total - below;
        if count == 0 || below == 0 || above == 0 {
            continue;
        }
        let apart = sum as f64 / below as f64 - (all - sum) as f64 / above as f64;
        let score = below as f64 * above as f64 * apart * apart;
        if best.is_none_or(|(s, _)| score > s) {
            best = Some((score, value as u8));
        }
    }
    best.map(|(_, value)| value)
}

/// Takes the rulings out of the evened grey and finds the ink in what is left.
#[tracing::instrument(level = "trace", name = "ink", skip_all)]
pub(crate) fn find(evened: &GrayImage, rulings: &Rulings, px_per_mm: f64) -> Ink {
    let rough = binarise(evened, for_scale(px_per_mm));
    let level = stroke_level(evened, &rough, rulings);
    let grey = ruling::lift(evened, rulings, level);
    let mut mask = binarise(&grey, for_scale(px_per_mm));
    let level = stroke_level(&grey, &mask, rulings);
    // Print on the back and paper grain are locally dark but far from the page's own ink.
    let faintest = f64::from(PAPER) - 0.35 * (f64::from(PAPER) - level);
    for (m, g) in mask.pixels_mut().zip(grey.pixels()) {
        if f64::from(g[0]) > faintest {
            *m = Luma([0]);
        }
    }
    ruling::erase_rests(&mut mask, rulings);
    let pen = pen_width(&mask).unwrap_or(0.4 * px_per_mm);
    let blur = blur(&grey, &mask, pen);
    Ink {
        grey,
        mask,
        level,
        pen,
        blur,
    }
}

fn for_scale(px_per_mm: f64) -> Sauvola {
    Sauvola {
        window: (6.0 * px_per_mm) as u32 | 1,
        k: 0.2,
        range: 128.0,
    }
}

/// The grey of the middle of strokes away from rules.
#[tracing::instrument(level = "trace", name = "stroke level", skip_all)]
fn stroke_level(grey: &GrayImage, mask: &GrayImage, rulings: &Rulings) -> f64 {
    let on_rule = ruling::cover(grey.dimensions(), rulings);
    let mut counts = [0u32; 256];
    for ((m, g), r) in mask.pixels().zip(grey.pixels()).zip(on_rule.pixels()) {
        if m[0] > 0 && r[0] == 0 {
            counts[g[0] as usize] += 1;
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
fn pen_width(mask: &GrayImage) -> Option<f64> {
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
                let up = (0..=y)
                    .rev()
                    .take_while(|r| raw[r * w + middle] > 0)
                    .count();
                let down = (y..h).take_while(|r| raw[r * w + middle] > 0).count();
                widths.push((x - start).min(up + down - 1) as f64);
            }
            x += 1;
        }
    }
    stats::median(&widths)
}

/// Standard deviation of the blur, from the steepest step at the sides of plain strokes: a sharp
/// edge of contrast c has, under blur s, a steepest slope of c / (s √2π).
#[tracing::instrument(level = "trace", name = "blur", skip_all)]
fn blur(grey: &GrayImage, mask: &GrayImage, pen: f64) -> f64 {
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

#[cfg(test)]
impl Ink {
    /// Ink drawn for a test: whatever is darker than `below`, and its first piece.
    pub(crate) fn drawn(
        grey: GrayImage,
        below: u8,
        (level, pen, blur): (f64, f64, f64),
    ) -> (Self, crate::pieces::Piece) {
        let mask = GrayImage::from_fn(grey.width(), grey.height(), |x, y| {
            let dark = grey.get_pixel(x, y)[0] < below;
            Luma([if dark { 255 } else { 0 }])
        });
        let piece = crate::pieces::label(&mask).remove(0);
        let ink = Self {
            grey,
            mask,
            level,
            pen,
            blur,
        };
        (ink, piece)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PUBLISHED: Sauvola = Sauvola {
        window: 25,
        k: 0.2,
        range: 128.0,
    };

    #[test]
    fn sauvola_gives_the_published_formula() {
        // Sauvola & Pietikäinen 2000, Pattern Recognition 33:225-236, formula (5); the second value
        // recomputed with scikit-image 0.26 (threshold_sauvola).
        assert!((PUBLISHED.threshold(200.0, 0.0) - 160.0).abs() < 1e-9);
        assert!((PUBLISHED.threshold(110.0, 73.484_69) - 100.630_181_49).abs() < 1e-6);
    }

    #[test]
    fn a_flat_picture_has_no_ink() {
        let mask = binarise(&GrayImage::from_pixel(60, 40, Luma([200])), PUBLISHED);
        assert!(mask.pixels().all(|p| p[0] == 0));
    }

    #[test]
    fn a_dark_bar_is_ink_and_its_paper_is_not() {
        let picture = GrayImage::from_fn(80, 60, |x, y| {
            Luma([if (30..37).contains(&x) && (10..50).contains(&y) {
                60
            } else {
                210
            }])
        });
        let mask = binarise(&picture, PUBLISHED);
        assert_eq!(mask.pixels().filter(|p| p[0] > 0).count(), 7 * 40);
        assert_eq!(pen_width(&mask), Some(7.0));
    }

    #[test]
    fn otsu_parts_two_greys() {
        // Otsu 1979, IEEE Trans. SMC 9:62-66; the value recomputed with scikit-image 0.26.
        let picture = GrayImage::from_fn(100, 100, |x, y| {
            Luma([if x < 20 && y < 20 { 50 } else { 200 }])
        });
        assert_eq!(otsu(picture.pixels().map(|p| p[0])), Some(50));
    }

    #[test]
    fn light_is_evened_over_a_slope() {
        let slope = GrayImage::from_fn(400, 300, |x, _| Luma([120 + (x / 4) as u8]));
        let flat = even(&slope, 10.0);
        let paper = f64::from(PAPER);
        let inner = (24..376).flat_map(|x| (0..300).map(move |y| (x, y)));
        let off = inner.map(|(x, y)| (f64::from(flat.get_pixel(x, y)[0]) - paper).abs());
        assert!(off.fold(0.0, f64::max) < 4.0);
    }
}
