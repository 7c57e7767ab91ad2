//! Writing counted in the cells of [`Light`].

use crate::glance::{Light, Strokes};

/// Some cells: how many, and the ink on them.
#[derive(Clone, Copy, Default)]
pub(super) struct Tally {
    pub cells: f64,
    pub ink: f64,
}

impl Tally {
    pub fn add(&mut self, other: Self) {
        self.cells += other.cells;
        self.ink += other.ink;
    }

    pub fn of(tallies: &[Self]) -> Self {
        tallies.iter().fold(Self::default(), |mut sum, tally| {
            sum.add(*tally);
            sum
        })
    }
}

/// 1 for each cell of [`Light`] that holds a written cell of [`Strokes`]: faded ink still counts.
pub(super) fn ink(light: &Light, strokes: &Strokes, px_per_mm: f64) -> Vec<f64> {
    let mut ink = vec![0.0; light.levels().len()];
    let pixel = |k: usize| ((k as f64 + 0.5) * strokes.cell * px_per_mm) as usize;
    for y in 0..strokes.height {
        for (x, _) in strokes.row(y).iter().enumerate().filter(|(_, w)| **w) {
            ink[light.cell(pixel(x), pixel(y))] = 1.0;
        }
    }
    ink
}
