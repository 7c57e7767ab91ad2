//! A letter's ink as a picture of how dark it is, and the white that it encloses.

use image::{GrayImage, Luma};

use crate::edges;
use crate::ink::{Ink, PAPER};
use crate::pieces::{self, BoxPx, Piece, Touch};

/// Pixels about a letter's ink that are looked at: blur of its own, not its neighbours' ink.
const BESIDE: u32 = 2;

/// The darkness of a letter's pixels between two rows: 0 as paper, 255 as its strokes.
pub(super) struct Darkness {
    cells: GrayImage,
    /// Column and row of the sheet that its first pixel is.
    corner: (u32, u32),
}

impl Darkness {
    /// `None` where none of the ink lies between the rows.
    pub(super) fn of(ink: &Ink, piece: &Piece, (top, bottom): (f64, f64)) -> Option<Self> {
        let (width, height) = ink.grey.dimensions();
        let b = piece.bounds();
        let area = BoxPx {
            x0: b.x0.saturating_sub(BESIDE + 1),
            y0: b.y0.saturating_sub(BESIDE + 1).max(top.max(0.0) as u32),
            x1: (b.x1 + BESIDE + 1).min(width),
            y1: (b.y1 + BESIDE + 1).min(height).min(bottom.max(0.0) as u32),
        };
        if area.x1 <= area.x0 || area.y1 <= area.y0 {
            return None;
        }
        let paper = f64::from(PAPER);
        let full = 2.0 * (paper - edges::half_way(ink, piece)).max(1.0);
        let mut own = GrayImage::new(area.x1 - area.x0, area.y1 - area.y0);
        for run in &piece.runs {
            let rows = run.y.saturating_sub(BESIDE).max(area.y0)..(run.y + BESIDE + 1).min(area.y1);
            let columns =
                run.x0.saturating_sub(BESIDE).max(area.x0)..(run.x1 + BESIDE).min(area.x1);
            for (y, x) in rows.flat_map(|y| columns.clone().map(move |x| (y, x))) {
                let dark = (paper - f64::from(ink.grey.get_pixel(x, y)[0])) / full;
                let dark = Luma([(255.0 * dark.clamp(0.0, 1.0)) as u8]);
                own.put_pixel(x - area.x0, y - area.y0, dark);
            }
        }
        Some(Self {
            cells: own,
            corner: (area.x0, area.y0),
        })
    }

    fn white(&self, limit: f64) -> GrayImage {
        let limit = (255.0 * limit) as u8;
        let mut white = self.cells.clone();
        for pixel in white.pixels_mut() {
            pixel[0] = if pixel[0] < limit { 255 } else { 0 };
        }
        white
    }

    /// Fills the rows from this row of the sheet down with ink.
    pub(super) fn floor(&mut self, from: f64) {
        let first = (from - f64::from(self.corner.1)).max(0.0) as u32;
        for y in first..self.cells.height() {
            for x in 0..self.cells.width() {
                self.cells.put_pixel(x, y, Luma([255]));
            }
        }
    }

    /// White that what is darker than the limit encloses: area of each patch and its box on the sheet.
    pub(super) fn enclosed(&self, limit: f64) -> Vec<(f64, BoxPx)> {
        let (width, height) = self.cells.dimensions();
        let (dx, dy) = self.corner;
        let patches = pieces::patches(&self.white(limit), Touch::Sides);
        let patches = patches.iter().map(|patch| (patch.area(), patch.bounds()));
        let inside = patches.filter(|(_, b)| b.x0 > 0 && b.y0 > 0 && b.x1 < width && b.y1 < height);
        inside
            .map(|(area, b)| {
                let on_sheet = BoxPx {
                    x0: b.x0 + dx,
                    y0: b.y0 + dy,
                    x1: b.x1 + dx,
                    y1: b.y1 + dy,
                };
                (area as f64, on_sheet)
            })
            .collect()
    }

    /// Whether what is darker than the limit encloses white that reaches above a row of the sheet.
    pub(super) fn encloses(&self, limit: f64, least: f64, above: f64) -> bool {
        let mut white = self.enclosed(limit).into_iter();
        white.any(|(area, b)| area >= least && f64::from(b.y0) < above)
    }

    /// White that has ink to its left, to its right and below, in pixels.
    pub(super) fn pocket(&self) -> f64 {
        let white = self.white(0.5);
        let (width, height) = white.dimensions();
        let ink = |x: u32, y: u32| white.get_pixel(x, y)[0] == 0;
        let mut covered = vec![false; width as usize];
        let mut count = 0.0;
        for y in (0..height).rev() {
            let first = (0..width).find(|&x| ink(x, y)).unwrap_or(width);
            let last = (0..width).rfind(|&x| ink(x, y)).unwrap_or(0);
            for x in 0..width {
                if ink(x, y) {
                    covered[x as usize] = true;
                } else if covered[x as usize] && first < x && x < last {
                    count += 1.0;
                }
            }
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(cells: GrayImage) -> Darkness {
        Darkness {
            cells,
            corner: (0, 0),
        }
    }

    /// A ring 20 pixels high with a gap of so many columns at its top, as a page has it.
    fn ring(gap: u32) -> Darkness {
        drawn(GrayImage::from_fn(26, 26, |x, y| {
            let (dx, dy) = (f64::from(x) - 12.5, f64::from(y) - 12.5);
            let away = ((dx * dx + dy * dy).sqrt() - 9.0).abs();
            let cut = y < 12 && x.abs_diff(12) < gap;
            let covered = (1.5 - away + 0.5).clamp(0.0, 1.0);
            Luma([if cut { 0 } else { (255.0 * covered) as u8 }])
        }))
    }

    #[test]
    fn a_ring_encloses_white_until_it_is_cut() {
        assert!(ring(0).encloses(0.8, 8.0, 26.0));
        assert!(!ring(3).encloses(0.1, 8.0, 26.0));
        assert!(ring(3).pocket() > 100.0);
    }

    #[test]
    fn a_ring_without_its_foot_is_closed_by_a_floor() {
        let mut footless = ring(0);
        for x in 8..18 {
            (18..26).for_each(|y| footless.cells.put_pixel(x, y, Luma([0])));
        }
        assert!(!footless.encloses(0.1, 8.0, 26.0));
        footless.floor(17.0);
        assert!(footless.encloses(0.8, 8.0, 26.0));
        assert!(
            !footless.encloses(0.8, 8.0, 3.0),
            "white that does not reach so high"
        );
    }

    #[test]
    fn a_blot_has_neither_a_bowl_nor_a_pocket() {
        let blot = drawn(GrayImage::from_fn(26, 26, |x, y| {
            let inside = (4..22).contains(&x) && (4..22).contains(&y);
            Luma([if inside { 255 } else { 0 }])
        }));
        assert!(!blot.encloses(0.5, 8.0, 26.0));
        assert_eq!(blot.pocket(), 0.0);
    }
}
