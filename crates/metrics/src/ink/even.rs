//! The paper's own brightness divided out.

use image::GrayImage;

use super::PAPER;
use crate::stats;

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
    // What a grey is multiplied by, at the middle of every block.
    let lift: Vec<f32> = paper
        .iter()
        .map(|level| f32::from(PAPER) / level.max(1.0))
        .collect();
    let across: Vec<(usize, usize, f32)> = (0..w).map(|x| between(x, block, bw)).collect();
    let row_of_blocks = |row: usize, out: &mut [f32]| {
        let lift = &lift[row * bw..(row + 1) * bw];
        for (out, &(left, right, fx)) in out.iter_mut().zip(&across) {
            *out = lift[left] + fx * (lift[right] - lift[left]);
        }
    };
    let width = w as usize;
    let mut out = GrayImage::new(w, h);
    let (mut above, mut below) = (vec![0.0; width], vec![0.0; width]);
    let mut known = None;
    let rows = out
        .chunks_exact_mut(width)
        .zip(grey.as_raw().chunks_exact(width));
    for (y, (evened, greys)) in rows.enumerate() {
        let (first, second, fy) = between(y as u32, block, bh);
        if known != Some((first, second)) {
            row_of_blocks(first, &mut above);
            row_of_blocks(second, &mut below);
            known = Some((first, second));
        }
        let lifts = above.iter().zip(&below);
        for ((evened, &value), (above, below)) in evened.iter_mut().zip(greys).zip(lifts) {
            let value = f32::from(value) * (above + fy * (below - above));
            *evened = (value + 0.5).min(255.0) as i32 as u8;
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
    let mut values = Vec::new();
    for by in 0..bh as u32 {
        for bx in 0..bw as u32 {
            let (x0, x1) = ((bx * block) as usize, ((bx + 1) * block).min(w) as usize);
            values.clear();
            for y in by * block..((by + 1) * block).min(h) {
                let row = y as usize * w as usize;
                values.extend_from_slice(&raw[row + x0..row + x1]);
            }
            out.push(f32::from(stats::ranked(&values, values.len() * 7 / 10)));
        }
    }
    out
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
