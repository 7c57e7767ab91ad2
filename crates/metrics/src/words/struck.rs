//! Ink that was put out of use: struck once, struck many times, bracketed.

use super::{Along, Blob, Reach, Struck};
use crate::pieces::Piece;
use crate::stats;

/// Which way a narrow, tall, bowed stroke is open: −1 to the left, 1 to the right.
fn bracket(blob: &Blob, x_height: f64) -> i32 {
    match bow(blob, x_height) {
        b if b < -0.07 => 1,
        b if b > 0.07 => -1,
        _ => 0,
    }
}

/// How far the middle of a narrow stroke that passes the short zone at both ends lies to the right
/// of its ends, in x-heights; 0 for other ink.
fn bow(blob: &Blob, x_height: f64) -> f64 {
    let r = blob.reach;
    let shaped = r.high > 1.15 * x_height
        && r.low < -0.12 * x_height
        && blob.piece.bounds().width() < 0.6 * x_height;
    if !shaped || blob.struck.is_some() {
        return 0.0;
    }
    let b = blob.piece.bounds();
    let fifth = |k: u32| -> f64 {
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
    (fifth(2) - (fifth(0) + fifth(4)) / 2.0) / x_height
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

/// How a piece of ink fills its line's short zone.
struct Fill {
    /// How many strokes lie side by side in a stretch as wide as a short letter is high.
    dense: f64,
    /// Share of the zone that is inked.
    share: f64,
    /// Share of columns that one nearly level stroke runs through.
    through: f64,
    /// Whether nothing but one level stroke sticks out at either end.
    overhangs: bool,
}

impl Fill {
    fn of(piece: &Piece, reach: Reach, along: Along<'_>, pen: f64, printed: &[f64]) -> Self {
        let x_height = along.line.x_height;
        let grid = Grid::new(piece, reach, along);
        let rows = |from: f64, to: f64| {
            let first = ((from * x_height - reach.low).max(0.0) as usize).min(grid.height);
            first..((to * x_height - reach.low).max(0.0) as usize).min(grid.height)
        };
        let body = rows(0.05, 0.95);
        let inked = grid.cells[body.start * grid.width..body.end * grid.width]
            .iter()
            .filter(|c| **c)
            .count();
        let share = inked as f64 / ((body.len() * grid.width) as f64).max(1.0);
        let base = along.line.base_at(reach.centre());
        let on_print: Vec<bool> = (0..grid.height)
            .map(|r| {
                let row = base - (reach.low + r as f64 + 0.5);
                printed.iter().any(|p| (p - row).abs() < 0.5 * pen + 1.0)
            })
            .collect();
        Self {
            dense: share * x_height / pen,
            share,
            through: stroke_through(&grid, rows(0.22, 0.82), pen, &on_print),
            overhangs: overhangs(&grid, rows(0.1, 0.9), pen),
        }
    }
}

/// Whether a piece looks like a word under a crossing-out.
pub(super) fn crossed_out(
    piece: &Piece,
    reach: Reach,
    along: Along<'_>,
    pen: f64,
    printed: &[f64],
) -> Option<Struck> {
    let x_height = along.line.x_height;
    if reach.width() < 1.2 * x_height {
        return None;
    }
    let fill = Fill::of(piece, reach, along, pen, printed);
    if reach.width() > 1.4 * x_height && fill.share > 0.47 && fill.dense > 3.3 {
        return Some(Struck::ManyTimes);
    }
    // In two touching letters an arch can pass for a stroke; a struck word is wider.
    let wide = reach.width() > 2.2 * x_height;
    ((wide || fill.overhangs) && fill.through > 0.92).then_some(Struck::Once)
}

/// How a word that the text does not have was put out of use; `None` where nothing shows that it was.
pub(crate) fn left_over(word: &[&Blob], along: Along<'_>, pen: f64) -> Option<Struck> {
    let x_height = along.line.x_height;
    let (first, last) = (word.first()?, word.last()?);
    if let Some(known) = word.iter().find_map(|b| b.struck) {
        return Some(known);
    }
    if word.len() >= 3 && bow(first, x_height) < -0.03 && bow(last, x_height) > 0.03 {
        return Some(Struck::Bracketed);
    }
    let piece = Piece::union(word.iter().map(|b| &b.piece));
    let reach = word[1..].iter().fold(first.reach, |r, b| r.join(b.reach));
    let fill = Fill::of(&piece, reach, along, pen, &[]);
    match fill {
        f if f.through > 0.85 && f.dense < 2.6 => Some(Struck::Once),
        f if f.dense > 2.4 => Some(Struck::ManyTimes),
        _ => None,
    }
}

/// Whether the columns at both ends, as many as the pen is wide, have one stroke's thickness of ink
/// and that in the given rows.
fn overhangs(grid: &Grid, rows: core::ops::Range<usize>, pen: f64) -> bool {
    let wide = (1.2 * pen).ceil() as usize;
    let level = |x: usize| {
        let inked: Vec<usize> = (0..grid.height)
            .filter(|r| grid.cells[r * grid.width + x])
            .collect();
        match (inked.first(), inked.last()) {
            (Some(a), Some(b)) => {
                (b - a) as f64 <= 1.6 * pen && rows.contains(a) && rows.contains(b)
            }
            _ => true,
        }
    };
    grid.width > 4 * wide
        && (0..wide).all(level)
        && (grid.width - 1 - wide..grid.width - 1).all(level)
}

/// The largest share of columns that one nearly level stroke can cross without leaving the ink.
/// Ink on a printed line's row counts for less: it may be what is left of that line.
fn stroke_through(grid: &Grid, rows: core::ops::Range<usize>, pen: f64, on_print: &[bool]) -> f64 {
    const STRIDE: usize = 5;
    const PRINTED: f64 = 0.7;
    let height = rows.len();
    if height == 0 {
        return 0.0;
    }
    let trim = pen as usize;
    let columns: Vec<usize> = (trim..grid.width.saturating_sub(trim))
        .step_by(STRIDE)
        .collect();
    let ink = |r: usize, x: usize| {
        let row = rows.start + r;
        match (grid.cells[row * grid.width + x], on_print[row]) {
            (false, _) => 0.0,
            (true, true) => PRINTED,
            (true, false) => 1.0,
        }
    };
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

#[cfg(test)]
mod tests;
