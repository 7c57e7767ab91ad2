//! Where the places of a flat sheet are seen in a photograph.

use serde::{Deserialize, Serialize};

/// Photograph pixels of the nodes of an even grid over the sheet, row by row from its top left
/// corner; between nodes the mapping runs straight (bilinear).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Mesh {
    /// Nodes in a row, at least two.
    pub columns: u32,
    /// At least two rows of nodes; x right, y down, (0, 0) the centre of the first pixel.
    pub nodes: Vec<(f64, f64)>,
}

impl Mesh {
    /// A grid of `columns` × `rows` nodes (each at least two) through a mapping from shares of the
    /// sheet's width and height.
    pub fn new(columns: u32, rows: u32, map: impl Fn(f64, f64) -> (f64, f64)) -> Self {
        let (columns, rows) = (columns.max(2), rows.max(2));
        let share = |k: u32, n: u32| f64::from(k) / f64::from(n - 1);
        let nodes = (0..rows)
            .flat_map(|j| (0..columns).map(move |i| (i, j)))
            .map(|(i, j)| map(share(i, columns), share(j, rows)))
            .collect();
        Self { columns, nodes }
    }

    /// Rows of nodes.
    pub fn rows(&self) -> u32 {
        self.nodes.len() as u32 / self.columns.max(1)
    }

    /// Where a place is seen, given in shares of the sheet's width and height; past the sheet the
    /// outermost cells go on.
    pub fn at(&self, u: f64, v: f64) -> (f64, f64) {
        let (columns, rows) = (self.columns as usize, self.rows() as usize);
        let cell = |share: f64, n: usize| {
            let place = share * (n - 1) as f64;
            let first = (place.max(0.0) as usize).min(n - 2);
            (first, place - first as f64)
        };
        let ((i, s), (j, t)) = (cell(u, columns), cell(v, rows));
        let node = |i: usize, j: usize| self.nodes[j * columns + i];
        let (a, b) = (node(i, j), node(i + 1, j));
        let (c, d) = (node(i, j + 1), node(i + 1, j + 1));
        let mix = |a: f64, b: f64, c: f64, d: f64| {
            let (top, low) = (a + s * (b - a), c + s * (d - c));
            top + t * (low - top)
        };
        (mix(a.0, b.0, c.0, d.0), mix(a.1, b.1, c.1, d.1))
    }

    /// The same sheet taken for upside down.
    #[must_use]
    pub fn turned(mut self) -> Self {
        self.nodes.reverse();
        self
    }

    /// The sheet's corners, clockwise from its top left.
    pub fn corners(&self) -> [(f64, f64); 4] {
        [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(u, v)| self.at(u, v))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mapping_that_is_straight_in_both_ways_is_kept_exactly() {
        let map = |u: f64, v: f64| (3.0 + 90.0 * u + 4.0 * u * v, 5.0 - 2.0 * u + 120.0 * v);
        let mesh = Mesh::new(4, 6, map);
        assert_eq!(mesh.rows(), 6);
        for (u, v) in [(0.0, 0.0), (0.31, 0.77), (1.0, 1.0), (-0.1, 1.2)] {
            let (found, true_place) = (mesh.at(u, v), map(u, v));
            assert!((found.0 - true_place.0).abs() < 1e-9 && (found.1 - true_place.1).abs() < 1e-9);
        }
    }

    #[test]
    fn upside_down_swaps_opposite_corners() {
        let mesh = Mesh::new(2, 2, |u, v| (u, v));
        assert_eq!(mesh.turned().corners()[0], (1.0, 1.0));
    }
}
