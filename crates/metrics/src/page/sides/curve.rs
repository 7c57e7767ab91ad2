//! The outline of a sheet: four sides that may bend.

use super::polynomial::{Bend, value, weighted_fit};
use super::sight::Sighting;
use crate::page::quads::Quad;

/// The outline of a sheet: corners clockwise on the screen, and how each side bends from its
/// corner to the next.
#[derive(Debug, Clone, Copy)]
pub(in crate::page) struct Outline {
    pub corners: Quad,
    pub bends: [Bend; 4],
}

impl Outline {
    /// Straight sides.
    pub fn straight(corners: Quad) -> Self {
        Self {
            corners,
            bends: [[0.0; 4]; 4],
        }
    }

    /// The same outline with its corners counted from another one.
    pub fn turned(&self, by: usize) -> Self {
        Self {
            corners: core::array::from_fn(|k| self.corners[(by + k) % 4]),
            bends: core::array::from_fn(|k| self.bends[(by + k) % 4]),
        }
    }

    /// The outline in a picture `factor` times as large, whose points `map` gives.
    pub fn enlarged(&self, factor: f64, map: impl Fn((f64, f64)) -> (f64, f64)) -> Self {
        Self {
            corners: self.corners.map(map),
            bends: self.bends.map(|bend| bend.map(|v| v * factor)),
        }
    }

    /// Side k, from corner k to the next.
    pub fn curve(&self, k: usize) -> Curve {
        Curve {
            from: self.corners[k],
            to: self.corners[(k + 1) % 4],
            bend: self.bends[k],
        }
    }
}

/// One bent side.
pub(in crate::page) struct Curve {
    pub from: (f64, f64),
    pub to: (f64, f64),
    pub bend: Bend,
}

impl Curve {
    /// Unit vectors along the chord and inwards, and the chord's length.
    pub fn chord(&self) -> ((f64, f64), (f64, f64), f64) {
        let (dx, dy) = (self.to.0 - self.from.0, self.to.1 - self.from.1);
        let length = (dx * dx + dy * dy).sqrt().max(1e-9);
        let along = (dx / length, dy / length);
        // Corners go round clockwise on the screen, so inwards is to the right of the way.
        (along, (-along.1, along.0), length)
    }

    /// The point at u, and the direction there.
    pub fn at(&self, u: f64) -> ((f64, f64), (f64, f64)) {
        let (along, inwards, length) = self.chord();
        let [_, b, c, d] = self.bend;
        let v = value(&self.bend, u);
        let slope = (b + u * (2.0 * c + u * 3.0 * d)) / (0.5 * length);
        let t = 0.5 * (u + 1.0) * length;
        (
            (
                self.from.0 + t * along.0 + v * inwards.0,
                self.from.1 + t * along.1 + v * inwards.1,
            ),
            (along.0 + slope * inwards.0, along.1 + slope * inwards.1),
        )
    }

    /// Where a point lies: u along the chord, and its offset inwards.
    pub fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (along, inwards, length) = self.chord();
        let (dx, dy) = (x - self.from.0, y - self.from.1);
        let t = dx * along.0 + dy * along.1;
        (2.0 * t / length - 1.0, dx * inwards.0 + dy * inwards.1)
    }

    /// The same curve about another chord.
    pub(super) fn about(&self, from: (f64, f64), to: (f64, f64), degree: usize) -> Bend {
        let chord = Curve {
            from,
            to,
            bend: [0.0; 4],
        };
        let sightings: Vec<Sighting> = (-8..=8)
            .map(|k| {
                let (u, v) = chord.place(self.at(f64::from(k) / 8.0).0);
                Sighting { u, v, step: 1.0 }
            })
            .collect();
        weighted_fit(&sightings, &[0.0; 4], degree, f64::INFINITY).unwrap_or(self.bend)
    }
}
