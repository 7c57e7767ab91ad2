//! A quick estimate of where the writing is, rulings, squares and holes apart.

use image::GrayImage;

use super::light::Light;

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
        let rows = in_long_runs(w, h, longest, |along, across| written[across * w + along]);
        let columns = in_long_runs(h, w, longest, |along, across| written[along * w + across]);
        let border = (border / cell) as usize;
        let inside = |v: usize, n: usize| v >= border && v + border < n;
        for y in 0..h {
            for x in 0..w {
                let keep = inside(x, w) && inside(y, h) && !rows[y * w + x] && !columns[x * h + y];
                written[y * w + x] &= keep;
            }
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
    let mut sums = vec![0_u32; w];
    let mut dark = Vec::with_capacity(w * h);
    for y in 0..h {
        sums.fill(0);
        for row in raw[y * side * stride..].chunks(stride).take(side) {
            for (sum, block) in sums.iter_mut().zip(row.chunks_exact(side)) {
                *sum += block.iter().map(|&v| u32::from(v)).sum::<u32>();
            }
        }
        dark.extend(sums.iter().enumerate().map(|(x, &sum)| {
            let mean = f64::from(sum) / (side * side) as f64;
            mean < share * f64::from(light.at(x * side, y * side))
        }));
    }
    dark
}

/// Marks the cells of long runs along lines; a run may wander to a neighbouring line and skip one
/// cell. Entry `across * length + along`.
fn in_long_runs(
    length: usize,
    lines: usize,
    longest: usize,
    dark: impl Fn(usize, usize) -> bool,
) -> Vec<bool> {
    let mut marked = vec![false; length * lines];
    for across in 0..lines {
        let near = across.saturating_sub(1)..(across + 2).min(lines);
        let lit = |along: usize| !near.clone().any(|line| dark(along, line));
        let mut start = 0;
        let mut along = 0;
        while along <= length {
            let ends = along == length || (lit(along) && (along + 1 >= length || lit(along + 1)));
            if ends {
                if along - start > longest {
                    marked[across * length + start..across * length + along].fill(true);
                }
                start = along + 1;
            }
            along += 1;
        }
    }
    marked
}
