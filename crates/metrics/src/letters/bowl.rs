//! Whether a letter's bowl is closed: how dark its ring is at the lightest place.
//!
//! Ink that is darker than a limit encloses white or does not. The darkest limit at which it does is
//! the lightest place of the ring: a ring that is whole stays closed up to the darkness of its
//! strokes, one with a gap closes only where blur has laid a little grey over the gap.

use image::{GrayImage, Luma};

use crate::aspects::{Evidence, SURE};
use crate::edges;
use crate::ink::PAPER;
use crate::letters::Glyph;
use crate::pieces::{self, BoxPx, Piece, Touch};

/// Letters whose bowl is closed in every hand that is taught.
const BOWLED: &str = "adgoq";
/// Less than this a gap is.
const OPEN: f64 = 0.3;
/// White of a bowl, at least, as a share of a square of the x-height …
const LEAST_WHITE: f64 = 0.02;
/// … and in pixels.
const LEAST_PIXELS: f64 = 4.0;
/// Pixels about a letter's ink that are looked at: blur of its own, not its neighbours' ink.
const BESIDE: u32 = 2;
/// Limits that are tried.
const STEPS: u32 = 20;

/// Whether the bowl is open, and how dark its ring is at the lightest place, as a share of the
/// darkness of the letter's strokes; `None` for a letter without a bowl, and where no white is seen.
pub(crate) fn look(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<(bool, f64)> {
    let bowled = glyph.ch.is_some_and(|c| BOWLED.contains(c));
    if !bowled || glyph.confidence < SURE {
        return None;
    }
    let line = &evidence.lines[glyph.line];
    let middle = (glyph.edges.left + glyph.edges.right) / 2.0;
    let base = evidence.level.on_sheet(middle, line.base_at(middle));
    let zone = (base - 1.2 * line.x_height, base + 0.15 * line.x_height);
    let darkness = Darkness::of(evidence, &glyph.piece, zone)?;
    let least = (LEAST_WHITE * line.x_height * line.x_height).max(LEAST_PIXELS);
    let closed_at = |k: &u32| darkness.encloses(f64::from(*k) / f64::from(STEPS), least);
    let ring = match (1..STEPS).rev().find(closed_at) {
        Some(k) => f64::from(k) / f64::from(STEPS),
        // Nothing is enclosed: a pocket is a bowl left wide open; without one it is filled.
        None if darkness.pocket() >= least => 0.0,
        None => return None,
    };
    Some((ring < OPEN, ring))
}

/// The darkness of a letter's pixels in its short zone: 0 as paper, 255 as its strokes.
struct Darkness(GrayImage);

impl Darkness {
    fn of(evidence: &Evidence<'_>, piece: &Piece, (top, bottom): (f64, f64)) -> Option<Self> {
        let ink = evidence.ink;
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
        Some(Self(own))
    }

    fn white(&self, limit: f64) -> GrayImage {
        let limit = (255.0 * limit) as u8;
        let mut white = self.0.clone();
        for pixel in white.pixels_mut() {
            pixel[0] = if pixel[0] < limit { 255 } else { 0 };
        }
        white
    }

    /// Whether what is darker than the limit encloses white.
    fn encloses(&self, limit: f64, least: f64) -> bool {
        let (width, height) = self.0.dimensions();
        let patches = pieces::patches(&self.white(limit), Touch::Sides);
        patches.iter().any(|patch| {
            let b = patch.bounds();
            let inside = b.x0 > 0 && b.y0 > 0 && b.x1 < width && b.y1 < height;
            inside && patch.area() as f64 >= least
        })
    }

    /// White that has ink to its left, to its right and below, in pixels.
    fn pocket(&self) -> f64 {
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

    /// A ring 20 pixels high with a gap of so many columns at its top, as a page has it.
    fn ring(gap: u32) -> Darkness {
        Darkness(GrayImage::from_fn(26, 26, |x, y| {
            let (dx, dy) = (f64::from(x) - 12.5, f64::from(y) - 12.5);
            let away = ((dx * dx + dy * dy).sqrt() - 9.0).abs();
            let cut = y < 12 && x.abs_diff(12) < gap;
            let covered = (1.5 - away + 0.5).clamp(0.0, 1.0);
            Luma([if cut { 0 } else { (255.0 * covered) as u8 }])
        }))
    }

    #[test]
    fn a_ring_encloses_white_until_it_is_cut() {
        assert!(ring(0).encloses(0.8, 8.0));
        assert!(!ring(3).encloses(0.1, 8.0));
        assert!(ring(3).pocket() > 100.0);
    }

    #[test]
    fn a_blot_has_neither_a_bowl_nor_a_pocket() {
        let blot = Darkness(GrayImage::from_fn(26, 26, |x, y| {
            let inside = (4..22).contains(&x) && (4..22).contains(&y);
            Luma([if inside { 255 } else { 0 }])
        }));
        assert!(!blot.encloses(0.5, 8.0));
        assert_eq!(blot.pocket(), 0.0);
    }
}
