//! A smooth field of chance in two dimensions, for fibres, wood and pencil.

use crate::rng::Rng;

const SIDE: usize = 256;

/// Value noise on a lattice of 256 × 256 that repeats.
pub struct Noise(Vec<f32>);

impl Noise {
    /// The field of a seed.
    pub fn new(seed: u64) -> Self {
        let mut rng = Rng::new(seed, "noise");
        Self(
            (0..SIDE * SIDE)
                .map(|_| rng.between(-1.0, 1.0) as f32)
                .collect(),
        )
    }

    /// The field at a place, -1 to 1; one lattice step is 1.
    pub fn at(&self, x: f32, y: f32) -> f32 {
        let (column, row) = (x.floor(), y.floor());
        let (u, v) = (ease(x - column), ease(y - row));
        let wrap = |value: f32| (value as i32 as usize) % SIDE;
        let (left, top) = (wrap(column), wrap(row));
        let (right, bottom) = ((left + 1) % SIDE, (top + 1) % SIDE);
        let node = |column: usize, row: usize| self.0[row * SIDE + column];
        let above = node(left, top) + (node(right, top) - node(left, top)) * u;
        let below = node(left, bottom) + (node(right, bottom) - node(left, bottom)) * u;
        above + (below - above) * v
    }

    /// Three octaves, about -1 to 1.
    pub fn rough(&self, x: f32, y: f32) -> f32 {
        self.at(x, y) * 0.57
            + self.at(x * 2.1 + 31.0, y * 2.1 + 11.0) * 0.28
            + self.at(x * 4.3 + 3.0, y * 4.3 + 57.0) * 0.15
    }
}

fn ease(t: f32) -> f32 {
    t * t * (3.0 - 2.0 * t)
}
