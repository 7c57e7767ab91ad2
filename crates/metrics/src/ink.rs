//! `Page` → even light → ink: the light is evened, rulings are lifted out, and what is left is
//! told apart from the paper.

use image::{GrayImage, Luma};

use crate::ruling::{self, Rulings};

mod binarise;
mod even;
mod faint;
mod strokes;

pub use binarise::{Sauvola, binarise, otsu};
pub use even::even;

pub(crate) use strokes::pen_width;
use strokes::{blur, stroke_level};

/// The grey that paper has once the light is evened.
pub const PAPER: u8 = 230;

/// The writing, free of light and of what was printed on the sheet.
#[derive(Debug, Clone)]
pub struct Ink {
    /// Evened grey without rulings; paper is [`PAPER`].
    pub grey: GrayImage,
    /// 255 where there is ink.
    pub mask: GrayImage,
    /// The grey of a typical stroke's middle.
    pub level: f64,
    /// Typical stroke width in pixels.
    pub pen: f64,
    /// Blur of the photograph and the camera: standard deviation in pixels.
    pub blur: f64,
}

/// Takes the rulings out of the evened grey and finds the ink in what is left.
#[tracing::instrument(level = "trace", name = "ink", skip_all)]
pub(crate) fn find(evened: &GrayImage, rulings: &Rulings, px_per_mm: f64) -> Ink {
    let level = rough_level(evened, rulings, px_per_mm);
    let grey = ruling::lift(evened, rulings, level);
    let mut mask = binarise(&grey, for_scale(px_per_mm));
    let level = stroke_level(&grey, &mask, 1, rulings);
    faint::add(&mut mask, &grey, level, for_scale(px_per_mm));
    // Print on the back and paper grain are locally dark but far from the page's own ink.
    let faintest = f64::from(PAPER) - 0.35 * (f64::from(PAPER) - level);
    for (m, g) in mask.pixels_mut().zip(grey.pixels()) {
        if f64::from(g[0]) > faintest {
            *m = Luma([0]);
        }
    }
    ruling::erase_rests(&mut mask, rulings);
    let pen = pen_width(&mask).unwrap_or(0.4 * px_per_mm);
    let blur = blur(&grey, &mask, pen);
    Ink {
        grey,
        mask,
        level,
        pen,
        blur,
    }
}

/// The grey of strokes while the rulings are still there: a look at every other pixel of every other
/// row is enough.
fn rough_level(evened: &GrayImage, rulings: &Rulings, px_per_mm: f64) -> f64 {
    const EVERY: usize = 2;
    let width = (evened.width() as usize).max(1);
    let rows = evened.as_raw().chunks_exact(width).step_by(EVERY);
    let some: Vec<u8> = rows
        .flat_map(|row| row.iter().step_by(EVERY).copied())
        .collect();
    let size = |length: u32| length.div_ceil(EVERY as u32);
    let some = GrayImage::from_raw(size(evened.width()), size(evened.height()), some)
        .expect("every other pixel of every other row");
    let mask = binarise(&some, for_scale(px_per_mm / EVERY as f64));
    stroke_level(evened, &mask, EVERY, rulings)
}

fn for_scale(px_per_mm: f64) -> Sauvola {
    Sauvola {
        window: (6.0 * px_per_mm) as u32 | 1,
        k: 0.2,
        range: 128.0,
    }
}

fn count_quantile(counts: &[u32; 256], rank: u32) -> f32 {
    let mut below = 0;
    for (value, count) in counts.iter().enumerate() {
        below += count;
        if below > rank {
            return value as f32;
        }
    }
    255.0
}

#[cfg(test)]
impl Ink {
    /// Ink drawn for a test: whatever is darker than `below`, and its first piece.
    pub(crate) fn drawn(
        grey: GrayImage,
        below: u8,
        (level, pen, blur): (f64, f64, f64),
    ) -> (Self, crate::pieces::Piece) {
        let mask = GrayImage::from_fn(grey.width(), grey.height(), |x, y| {
            let dark = grey.get_pixel(x, y)[0] < below;
            Luma([if dark { 255 } else { 0 }])
        });
        let piece = crate::pieces::label(&mask).remove(0);
        let ink = Self {
            grey,
            mask,
            level,
            pen,
            blur,
        };
        (ink, piece)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PUBLISHED: Sauvola = Sauvola {
        window: 25,
        k: 0.2,
        range: 128.0,
    };

    #[test]
    fn sauvola_gives_the_published_formula() {
        // Sauvola & Pietikäinen 2000, Pattern Recognition 33:225-236, formula (5); the second value
        // recomputed with scikit-image 0.26 (threshold_sauvola).
        assert!((PUBLISHED.threshold(200.0, 0.0) - 160.0).abs() < 1e-9);
        assert!((PUBLISHED.threshold(110.0, 73.484_69) - 100.630_181_49).abs() < 1e-6);
    }

    #[test]
    fn a_flat_picture_has_no_ink() {
        let mask = binarise(&GrayImage::from_pixel(60, 40, Luma([200])), PUBLISHED);
        assert!(mask.pixels().all(|p| p[0] == 0));
    }

    #[test]
    fn a_dark_bar_is_ink_and_its_paper_is_not() {
        let picture = GrayImage::from_fn(80, 60, |x, y| {
            Luma([if (30..37).contains(&x) && (10..50).contains(&y) {
                60
            } else {
                210
            }])
        });
        let mask = binarise(&picture, PUBLISHED);
        assert_eq!(mask.pixels().filter(|p| p[0] > 0).count(), 7 * 40);
        assert_eq!(pen_width(&mask), Some(7.0));
    }

    #[test]
    fn otsu_parts_two_greys() {
        // Otsu 1979, IEEE Trans. SMC 9:62-66; the value recomputed with scikit-image 0.26.
        let picture = GrayImage::from_fn(100, 100, |x, y| {
            Luma([if x < 20 && y < 20 { 50 } else { 200 }])
        });
        assert_eq!(otsu(picture.pixels().map(|p| p[0])), Some(50));
    }

    #[test]
    fn light_is_evened_over_a_slope() {
        let slope = GrayImage::from_fn(400, 300, |x, _| Luma([120 + (x / 4) as u8]));
        let flat = even(&slope, 10.0);
        let paper = f64::from(PAPER);
        let inner = (24..376).flat_map(|x| (0..300).map(move |y| (x, y)));
        let off = inner.map(|(x, y)| (f64::from(flat.get_pixel(x, y)[0]) - paper).abs());
        assert!(off.fold(0.0, f64::max) < 4.0);
    }
}
