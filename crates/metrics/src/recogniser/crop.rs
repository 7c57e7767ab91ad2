//! A piece of ink → the small picture that the recogniser sees: as tall as `ROWS` says, the x-height
//! always the same, the baseline always on the same row, the page's lean undone, the ink in the middle.

use crate::ink::{Ink, PAPER};
use crate::pieces::{Piece, Run};
use crate::recogniser::Place;

pub(super) const ROWS: usize = 40;
pub(super) const COLUMNS: usize = 32;
/// Rows to the x-height.
const UNIT: f64 = 12.0;
/// Rows above the baseline.
const BASELINE: f64 = 27.0;
/// The x-heights in pixels that a letter can be read at.
const READABLE: std::ops::RangeInclusive<f64> = 3.0..=300.0;

/// Darkness by rows, from 0 for paper to 1 for the page's ink.
pub(super) type Crop = [f32; ROWS * COLUMNS];

/// A crop, left and right changed.
pub(super) fn mirrored(crop: &Crop) -> Crop {
    let mut out = *crop;
    out.chunks_exact_mut(COLUMNS).for_each(<[f32]>::reverse);
    out
}

/// A crop with so many columns of its ink left out at either side, what is left in the middle.
pub(super) fn trimmed(crop: &Crop, left: usize, right: usize) -> Option<Crop> {
    let inked = |column: usize| (0..ROWS).any(|row| crop[row * COLUMNS + column] > 0.0);
    let first = (0..COLUMNS).find(|k| inked(*k))? + left;
    let end = (0..COLUMNS).rfind(|k| inked(*k))? + 1;
    let end = end.checked_sub(right).filter(|end| *end > first)?;
    let start = (COLUMNS - (end - first)) / 2;
    let mut out = [0.0; ROWS * COLUMNS];
    for (new, old) in out
        .chunks_exact_mut(COLUMNS)
        .zip(crop.chunks_exact(COLUMNS))
    {
        new[start..start + end - first].copy_from_slice(&old[first..end]);
    }
    Some(out)
}

/// The part of the sheet that a crop shows.
struct Window {
    place: Place,
    /// Cells of the crop to a pixel.
    scale: f64,
    /// Column of the sheet at the baseline that the crop's middle shows.
    middle: f64,
}

/// Draws the crop of some pieces; `None` if none of their ink lies in it. Each pixel is spread over
/// the cells that it covers.
pub(super) fn crop(ink: &Ink, pieces: &[&Piece], place: Place) -> Option<Crop> {
    let known = place.baseline.is_finite() && place.lean.abs() < 2.0;
    if !known || !READABLE.contains(&place.x_height) {
        return None;
    }
    let mut window = Window {
        place,
        scale: UNIT / place.x_height,
        middle: 0.0,
    };
    window.middle = window.middle_of(pieces)?;
    let mut cells = [0.0; ROWS * COLUMNS];
    for run in pieces.iter().flat_map(|piece| &piece.runs) {
        window.add(*run, ink, &mut cells);
    }
    Some(cells.map(|v: f64| v.min(1.0) as f32))
}

impl Window {
    /// The rows of the crop that a row of the sheet covers, if any.
    fn rows(&self, y: u32) -> Option<(f64, f64)> {
        let top = BASELINE + (f64::from(y) - self.place.baseline) * self.scale;
        let bottom = top + self.scale;
        (bottom > 0.0 && top < ROWS as f64).then_some((top, bottom))
    }

    /// How far a row is moved to the left to undo the lean.
    fn shift(&self, y: u32) -> f64 {
        self.place.lean * (self.place.baseline - f64::from(y) - 0.5)
    }

    fn middle_of(&self, pieces: &[&Piece]) -> Option<f64> {
        let runs = pieces.iter().flat_map(|piece| &piece.runs);
        let seen = runs.filter(|r| self.rows(r.y).is_some());
        let (left, right) = seen.fold((f64::MAX, f64::MIN), |(left, right), r| {
            let shift = self.shift(r.y);
            let (x0, x1) = (f64::from(r.x0) - shift, f64::from(r.x1) - shift);
            (left.min(x0), right.max(x1))
        });
        (left < right).then_some((left + right) / 2.0)
    }

    fn add(&self, run: Run, ink: &Ink, cells: &mut [f64]) {
        let Some((top, bottom)) = self.rows(run.y) else {
            return;
        };
        let shift = self.shift(run.y) + self.middle;
        let half = COLUMNS as f64 / 2.0;
        // Casts of floats keep within what a whole number holds.
        let first = run.x0.max((shift - half / self.scale).floor() as u32);
        let end = run.x1.min((shift + half / self.scale).ceil() as u32);
        for x in first..end {
            let dark = darkness(ink, x, run.y);
            let left = half + (f64::from(x) - shift) * self.scale;
            for (row, high) in covered(top, bottom, ROWS) {
                for (column, wide) in covered(left, left + self.scale, COLUMNS) {
                    cells[row * COLUMNS + column] += dark * high * wide;
                }
            }
        }
    }
}

/// Cells between two places, and how much of each lies between them.
fn covered(from: f64, to: f64, cells: usize) -> impl Iterator<Item = (usize, f64)> {
    let first = from.max(0.0).floor() as usize;
    let end = (to.max(0.0).ceil() as usize).min(cells);
    (first..end).map(move |k| (k, to.min(k as f64 + 1.0) - from.max(k as f64)))
}

fn darkness(ink: &Ink, x: u32, y: u32) -> f64 {
    let Some(grey) = ink.grey.get_pixel_checked(x, y) else {
        return 0.0;
    };
    let paper = f64::from(PAPER);
    let depth = (paper - ink.level).max(1.0);
    ((paper - f64::from(grey[0])) / depth).clamp(0.0, 1.0)
}
