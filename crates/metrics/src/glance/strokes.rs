//! A quick estimate of where the writing is, rulings, squares and holes apart.

use image::GrayImage;

use super::light::Light;
use crate::transpose::transpose;

/// Border of the sheet that is not looked at, mm: punched holes lie in it.
const BORDER: f64 = 15.0;
/// Side of a small cell, mm.
const CELL: f64 = 0.25;
/// Ink is darker than this share of the paper around it.
const INK: f64 = 0.80;
/// Longer straight runs are print, mm.
const LONGEST: f64 = 14.0;

/// Cells of about a quarter of a millimetre that hold writing.
pub(crate) struct Strokes {
    /// Cells in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Side of a cell, mm.
    pub cell: f64,
    written: Vec<bool>,
}

impl Strokes {
    /// Dark cells that are no part of a long straight run and do not lie at the sheet's border.
    pub fn of(grey: &GrayImage, light: &Light, px_per_mm: f64) -> Self {
        Self::found(INK, BORDER, grey, light, px_per_mm)
    }

    /// The same of cells darker than a given share of the paper around them.
    pub fn darker_than(share: f64, grey: &GrayImage, light: &Light, px_per_mm: f64) -> Self {
        Self::found(share, BORDER, grey, light, px_per_mm)
    }

    /// The same up to a given distance from the sheet's border, mm, holes and all.
    pub fn up_to(border: f64, grey: &GrayImage, light: &Light, px_per_mm: f64) -> Self {
        Self::found(INK, border, grey, light, px_per_mm)
    }

    #[tracing::instrument(level = "trace", name = "strokes", skip_all)]
    fn found(share: f64, border: f64, grey: &GrayImage, light: &Light, px_per_mm: f64) -> Self {
        let side = (CELL * px_per_mm).round().max(1.0) as usize;
        let cell = side as f64 / px_per_mm;
        let (w, h) = (grey.width() as usize / side, grey.height() as usize / side);
        let mut written = dark_cells(share, grey, light, side, (w, h));
        let longest = (LONGEST / cell) as usize;
        let rows = in_long_runs(&written, w, longest);
        let turned = in_long_runs(&transpose(&written, w), h, longest);
        let columns = transpose(&turned, h);
        for (written, print) in written.iter_mut().zip(rows.iter().zip(&columns)) {
            *written &= !(print.0 | print.1);
        }
        let border = (border / cell) as usize;
        for (y, row) in written.chunks_exact_mut(w.max(1)).enumerate() {
            let inside = y >= border && y + border < h;
            let left = if inside { border.min(w) } else { w };
            row[..left].fill(false);
            row[w.saturating_sub(border).max(left)..].fill(false);
        }
        Self {
            width: w,
            height: h,
            cell,
            written,
        }
    }

    /// Area written on, mm².
    pub fn area(&self) -> f64 {
        self.written.iter().filter(|w| **w).count() as f64 * self.cell * self.cell
    }

    /// One row of cells.
    pub fn row(&self, y: usize) -> &[bool] {
        &self.written[y * self.width..(y + 1) * self.width]
    }
}

/// Cells whose mean is darker than this share of the paper.
fn dark_cells(
    share: f64,
    grey: &GrayImage,
    light: &Light,
    side: usize,
    (w, h): (usize, usize),
) -> Vec<bool> {
    let stride = grey.width() as usize;
    let raw = grey.as_raw();
    let area = (side * side) as f64;
    let mut sums = vec![0_u32; w * side];
    let mut limits = vec![0.0; w];
    let mut dark = Vec::with_capacity(w * h);
    for y in 0..h {
        sums.fill(0);
        for row in raw[y * side * stride..].chunks(stride).take(side) {
            for (sum, &v) in sums.iter_mut().zip(row) {
                *sum += u32::from(v);
            }
        }
        if y == 0 || light.cell(0, y * side) != light.cell(0, (y - 1) * side) {
            for (x, limit) in limits.iter_mut().enumerate() {
                *limit = share * area * f64::from(light.at(x * side, y * side));
            }
        }
        let cells = sums.chunks_exact(side).zip(&limits);
        dark.extend(cells.map(|(cell, &limit)| f64::from(cell.iter().sum::<u32>()) < limit));
    }
    dark
}

/// Marks the cells of long runs along rows of `width` cells; a run may wander to a neighbouring row
/// and skip one cell.
fn in_long_runs(dark: &[bool], width: usize, longest: usize) -> Vec<bool> {
    let mut marked = vec![false; dark.len()];
    if width == 0 {
        return marked;
    }
    let rows: Vec<&[bool]> = dark.chunks_exact(width).collect();
    let mut near = vec![false; width];
    for (y, marks) in marked.chunks_exact_mut(width).enumerate() {
        near.copy_from_slice(rows[y]);
        for row in [y.wrapping_sub(1), y + 1]
            .into_iter()
            .filter_map(|y| rows.get(y))
        {
            for (near, dark) in near.iter_mut().zip(*row) {
                *near |= dark;
            }
        }
        // At least every other cell of a run is dark.
        if 2 * near.iter().filter(|dark| **dark).count() < longest {
            continue;
        }
        let mut start = 0;
        for along in 0..=width {
            let ends =
                along == width || (!near[along] && near.get(along + 1).is_none_or(|after| !after));
            if ends {
                if along - start > longest {
                    marks[start..along].fill(true);
                }
                start = along + 1;
            }
        }
    }
    marked
}
