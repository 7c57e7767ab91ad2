//! The light on the paper, cell by cell.

use image::GrayImage;

use crate::stats;

/// Side of a cell, mm.
const CELL: f64 = 2.0;

/// Grey level of the bare paper in cells of 2 × 2 mm.
pub(crate) struct Light {
    /// Side of a cell, pixels.
    side: usize,
    columns: usize,
    rows: usize,
    levels: Vec<u8>,
}

impl Light {
    /// Takes the level that 85 % of a cell's pixels stay below: paper, even beside ink.
    #[tracing::instrument(level = "trace", name = "light", skip_all)]
    pub fn of(grey: &GrayImage, px_per_mm: f64) -> Self {
        let side = (CELL * px_per_mm).round().max(2.0) as usize;
        let (columns, rows) = (
            (grey.width() as usize / side).max(1),
            (grey.height() as usize / side).max(1),
        );
        let mut light = Self {
            side,
            columns,
            rows,
            levels: Vec::with_capacity(columns * rows),
        };
        let width = grey.width() as usize;
        let raw = grey.as_raw();
        let mut greys = Vec::new();
        for k in 0..rows * columns {
            let (x, y) = (k % columns * side, k / columns * side);
            let right = (x + side).min(width);
            greys.clear();
            for row in y..(y + side).min(grey.height() as usize) {
                greys.extend_from_slice(&raw[row * width + x..row * width + right]);
            }
            light
                .levels
                .push(stats::ranked(&greys, greys.len() * 85 / 100));
        }
        light
    }

    /// Paper level of each cell, row by row.
    pub fn levels(&self) -> &[u8] {
        &self.levels
    }

    /// Cells in a row.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Side of a cell, mm.
    pub fn side_mm(&self, px_per_mm: f64) -> f64 {
        self.side as f64 / px_per_mm
    }

    /// The cell that a pixel lies in.
    pub fn cell(&self, x: usize, y: usize) -> usize {
        let column = (x / self.side).min(self.columns - 1);
        let row = (y / self.side).min(self.rows - 1);
        row * self.columns + column
    }

    /// Paper level at a pixel.
    pub fn at(&self, x: usize, y: usize) -> u8 {
        self.levels[self.cell(x, y)]
    }

    /// Median paper level of the page.
    pub fn median(&self) -> f64 {
        f64::from(stats::ranked(&self.levels, self.levels.len() / 2))
    }

    /// The share of light that is lost over 4 mm, at the steepest places of the page (one cell in
    /// 200 is steeper). The sheet's outermost 6 mm do not count.
    pub fn deepest_step(&self) -> f64 {
        const APART: usize = 2;
        const MARGIN: usize = 3;
        let mut losses = Vec::new();
        let level = |x: usize, y: usize| f64::from(self.levels[y * self.columns + x].max(1));
        for y in MARGIN..self.rows.saturating_sub(MARGIN) {
            for x in MARGIN..self.columns.saturating_sub(MARGIN) {
                let here = level(x, y);
                let mut compare = |there: f64| {
                    losses.push(1.0 - here.min(there) / here.max(there));
                };
                if x + APART + MARGIN < self.columns {
                    compare(level(x + APART, y));
                }
                if y + APART + MARGIN < self.rows {
                    compare(level(x, y + APART));
                }
            }
        }
        if losses.is_empty() {
            return 0.0;
        }
        let place = losses.len() - 1 - losses.len() / 200;
        *losses.select_nth_unstable_by(place, f64::total_cmp).1
    }
}
