//! Ink that was put out of use: struck once, struck many times, bracketed.

use super::{Along, Blob, Reach, Struck};
use crate::pieces::Piece;
use crate::stats;

/// Which way a narrow, tall, bowed stroke is open: −1 to the left, 1 to the right.
fn bracket(blob: &Blob, x_height: f64) -> i32 {
    let r = blob.reach;
    let shaped = r.high > 1.15 * x_height
        && r.low < -0.12 * x_height
        && blob.piece.bounds().width() < 0.6 * x_height;
    if !shaped || blob.struck.is_some() {
        return 0;
    }
    let b = blob.piece.bounds();
    let third = |k: u32| -> f64 {
        let rows = b.y0 + (b.y1 - b.y0) * k / 5..b.y0 + (b.y1 - b.y0) * (k + 1) / 5;
        let middles: Vec<f64> = blob
            .piece
            .runs
            .iter()
            .filter(|run| rows.contains(&run.y))
            .map(|run| f64::from(run.x0 + run.x1) / 2.0)
            .collect();
        stats::mean(&middles).unwrap_or(0.0)
    };
    let bow = third(2) - (third(0) + third(4)) / 2.0;
    match bow / x_height {
        b if b < -0.07 => 1,
        b if b > 0.07 => -1,
        _ => 0,
    }
}

/// Joins what stands between a bracket and its counterpart into one blob.
pub(super) fn bracketed(blobs: Vec<Blob>, x_height: f64) -> Vec<Blob> {
    const MOST_BETWEEN: usize = 14;
    let sides: Vec<i32> = blobs.iter().map(|b| bracket(b, x_height)).collect();
    let mut out: Vec<Blob> = Vec::new();
    let mut at = 0;
    while at < blobs.len() {
        let end = (at + 2..blobs.len().min(at + MOST_BETWEEN)).find(|&k| sides[k] == -1);
        match end.filter(|_| sides[at] == 1) {
            Some(end) => {
                let inside = &blobs[at..=end];
                out.push(Blob {
                    piece: Piece::union(inside.iter().map(|b| &b.piece)),
                    dots: Vec::new(),
                    reach: inside.iter().fold(inside[0].reach, |r, b| r.join(b.reach)),
                    struck: Some(Struck::Bracketed),
                });
                at = end + 1;
            }
            None => {
                out.push(blobs[at].clone());
                at += 1;
            }
        }
    }
    out
}

/// Ink of a piece on a grid of its line's own coordinates.
struct Grid {
    width: usize,
    height: usize,
    cells: Vec<bool>,
}

impl Grid {
    fn new(piece: &Piece, reach: Reach, along: Along<'_>) -> Self {
        let width = reach.width().ceil() as usize + 1;
        let height = (reach.high - reach.low).ceil() as usize + 1;
        let mut cells = vec![false; width * height];
        for run in &piece.runs {
            let middle = f64::from(run.x0 + run.x1) / 2.0;
            let h = along.height(middle, f64::from(run.y) + 0.5);
            let row = ((h - reach.low).max(0.0) as usize).min(height - 1);
            let start = (f64::from(run.x0) - along.lean * h - reach.left).max(0.0) as usize;
            let end = (start + (run.x1 - run.x0) as usize).min(width);
            cells[row * width + start.min(end)..row * width + end].fill(true);
        }
        Self {
            width,
            height,
            cells,
        }
    }
}

/// Whether a piece is a word under a crossing-out.
pub(super) fn crossed_out(
    piece: &Piece,
    reach: Reach,
    along: Along<'_>,
    pen: f64,
) -> Option<Struck> {
    let x_height = along.line.x_height;
    if reach.width() < 1.4 * x_height {
        return None;
    }
    let grid = Grid::new(piece, reach, along);
    let rows = |from: f64, to: f64| {
        let first = ((from * x_height - reach.low).max(0.0) as usize).min(grid.height);
        first..((to * x_height - reach.low).max(0.0) as usize).min(grid.height)
    };
    let body = rows(0.05, 0.95);
    let cells = body.len() * grid.width;
    if cells == 0 {
        return None;
    }
    let inked = body
        .clone()
        .map(|r| {
            grid.cells[r * grid.width..(r + 1) * grid.width]
                .iter()
                .filter(|c| **c)
                .count()
        })
        .sum::<usize>();
    // How many strokes lie side by side in a stretch as wide as a short letter is high.
    let share = inked as f64 / cells as f64;
    let dense = share * x_height / pen;
    if share > 0.47 && dense > 3.3 {
        return Some(Struck::ManyTimes);
    }
    // In two touching letters an arch can pass for a stroke; a struck word is wider.
    let wide = reach.width() > 2.2 * x_height;
    (wide && stroke_through(&grid, rows(0.22, 0.82), pen) > 0.95).then_some(Struck::Once)
}

/// The largest share of columns that one nearly level stroke can cross without leaving the ink.
fn stroke_through(grid: &Grid, rows: core::ops::Range<usize>, pen: f64) -> f64 {
    const STRIDE: usize = 5;
    let height = rows.len();
    if height == 0 {
        return 0.0;
    }
    let trim = pen as usize;
    let columns: Vec<usize> = (trim..grid.width.saturating_sub(trim))
        .step_by(STRIDE)
        .collect();
    let ink =
        |r: usize, x: usize| f64::from(u8::from(grid.cells[(rows.start + r) * grid.width + x]));
    let mut best: Vec<f64> = vec![0.0; height];
    for &x in &columns {
        let before = best.clone();
        for (r, cell) in best.iter_mut().enumerate() {
            let from = &before[r.saturating_sub(1)..=(r + 1).min(height - 1)];
            *cell = from.iter().copied().fold(0.0, f64::max) + ink(r, x);
        }
    }
    best.iter().copied().fold(0.0, f64::max) / columns.len().max(1) as f64
}
