//! The operations that measuring is built from, each by itself, as the stages use them: for holding
//! them against other libraries and for timing them beside those.
//!
//! Ink in a mask is whatever is not 0.

use image::{GrayImage, ImageBuffer, Luma, RgbImage};
use units::Mesh;

pub use crate::ink::Sauvola;
use crate::ink::{self, Ink};
use crate::pieces::Piece;
use crate::{aspects, page, pieces, recogniser};

/// The number of its piece for every pixel, from 1 in the order of the pieces' first pixels; 0 where
/// there is no ink.
pub type Labels = ImageBuffer<Luma<u32>, Vec<u32>>;

/// A mask with 255 where a pixel is at or below the threshold of its surroundings (Sauvola and
/// Pietikäinen 2000); windows are cut off at the picture's edge.
pub fn binarise(grey: &GrayImage, how: Sauvola) -> GrayImage {
    ink::binarise(grey, how)
}

/// The grey at or below which a pixel is ink (Otsu 1979); `None` for a picture of one grey.
pub fn otsu(grey: &GrayImage) -> Option<u8> {
    ink::otsu(grey.pixels().map(|pixel| pixel[0]))
}

/// Pieces of touching ink; pixels that touch at a corner belong together.
pub fn label(mask: &GrayImage) -> Labels {
    let mut labels = Labels::new(mask.width(), mask.height());
    for (piece, number) in pieces::label(mask).iter().zip(1..) {
        for run in &piece.runs {
            for x in run.x0..run.x1 {
                labels.put_pixel(x, run.y, Luma([number]));
            }
        }
    }
    labels
}

/// Median thickness of strokes, in pixels; `None` without ink.
pub fn stroke_width(mask: &GrayImage) -> Option<f64> {
    ink::pen_width(mask)
}

/// Lean of one stroke, degrees from upright, + forward: the regression of the middle of its ink on
/// the row. Paper is [`PAPER`]; the stroke is what the mask marks. `None` where there is no ink, or
/// too little.
pub fn lean(grey: &GrayImage, mask: &GrayImage) -> Option<f64> {
    let pen = ink::pen_width(mask)?;
    let piece = pieces::label(mask).into_iter().next()?;
    let stroke = Ink {
        grey: grey.clone(),
        mask: mask.clone(),
        level: f64::from(PAPER) / 2.0,
        pen,
        blur: 0.5,
    };
    aspects::slant::lean_of_stroke(&stroke, &piece)
}

/// The grey that paper has once its light is evened.
pub const PAPER: u8 = ink::PAPER;

/// The sheet of width × height mm cut out of a photograph, at `px_per_mm` pixels for each
/// millimetre. Cubic convolution (Keys 1981, a = −1/2).
pub fn warp(photo: &RgbImage, mesh: &Mesh, size_mm: (f64, f64), px_per_mm: u32) -> RgbImage {
    page::rectify(photo, mesh, size_mm, px_per_mm).0
}

/// What one letter's ink reads as: the probability of each letter and figure, `None` standing for ink
/// that is no letter. They sum to 1. The ink is what the mask marks; paper is [`PAPER`], and
/// `level` the grey of the pen. The row of the baseline and the x-height are in pixels, the lean in
/// columns to the right for each row up. `None` where there is no ink where a letter would be.
pub fn letter(
    (grey, mask): (&GrayImage, &GrayImage),
    level: f64,
    (baseline, x_height): (f64, f64),
    lean: f64,
) -> Option<Vec<(Option<char>, f64)>> {
    let pieces = pieces::label(mask);
    let pieces: Vec<&Piece> = pieces.iter().collect();
    let ink = Ink {
        grey: grey.clone(),
        mask: mask.clone(),
        level,
        pen: 1.0,
        blur: 0.0,
    };
    let place = recogniser::Place {
        baseline,
        x_height,
        lean,
    };
    let seen = recogniser::Seen::of(&ink, &pieces, place)?;
    Some(seen.reads().all().collect())
}
