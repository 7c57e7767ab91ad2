//! Pictures of the flat sheet: filled outlines with smooth edges.

use zeno::{Command, Fill, Format, Mask, Vector};

use crate::outline::Point;
use crate::paper::Colour;

/// A picture of the sheet in 8-bit red, green and blue; pixel (i, j) covers the square from
/// (i, j) to (i + 1, j + 1) divided by `px_per_mm`.
pub struct Layer {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Pixels for each millimetre.
    pub px_per_mm: f64,
    /// Row by row, three bytes each.
    pub pixels: Vec<u8>,
}

/// How much of each pixel of a part of the sheet is covered.
pub struct Cover {
    /// First pixel across; may be outside the sheet.
    pub left: i32,
    /// First pixel down; may be outside the sheet.
    pub top: i32,
    /// Pixels across.
    pub width: usize,
    /// 0 to 255 for each pixel, row by row.
    pub alpha: Vec<u8>,
}

/// Fills an outline given in mm.
pub fn fill(outline: &[Vec<Point>], px_per_mm: f64) -> Cover {
    let mut commands = Vec::new();
    for contour in outline {
        for (index, point) in contour.iter().enumerate() {
            let at = Vector::new((point.x * px_per_mm) as f32, (point.y * px_per_mm) as f32);
            commands.push(if index == 0 {
                Command::MoveTo(at)
            } else {
                Command::LineTo(at)
            });
        }
        commands.push(Command::Close);
    }
    let (alpha, place) = Mask::new(&commands)
        .style(Fill::NonZero)
        .format(Format::Alpha)
        .render();
    Cover {
        left: place.left,
        top: place.top,
        width: place.width as usize,
        alpha,
    }
}

impl Layer {
    /// A sheet of one colour.
    pub fn new(width_mm: f64, height_mm: f64, px_per_mm: f64, colour: Colour) -> Self {
        let width = (width_mm * px_per_mm).ceil() as usize;
        let height = (height_mm * px_per_mm).ceil() as usize;
        let bytes = colour.map(|channel| (channel * 255.0) as u8);
        Self {
            width,
            height,
            px_per_mm,
            pixels: bytes.repeat(width * height),
        }
    }

    /// Prints a rectangle given in mm over what is there.
    pub fn tint_rect(&mut self, from: (f64, f64), to: (f64, f64), colour: Colour) {
        let scale = self.px_per_mm;
        let covered = |from: f64, to: f64, index: usize| {
            let (start, end) = (index as f64, index as f64 + 1.0);
            (to.min(end) - from.max(start)).clamp(0.0, 1.0)
        };
        let (x0, x1) = (from.0 * scale, to.0 * scale);
        let (y0, y1) = (from.1 * scale, to.1 * scale);
        for row in (y0.max(0.0) as usize)..(y1.ceil() as usize).min(self.height) {
            for column in (x0.max(0.0) as usize)..(x1.ceil() as usize).min(self.width) {
                let share = covered(y0, y1, row) * covered(x0, x1, column);
                self.stain(column, row, share as f32, colour);
            }
        }
    }

    /// Mixes a colour into one pixel as ink does: what is under it shines through.
    pub fn stain(&mut self, column: usize, row: usize, share: f32, colour: Colour) {
        let at = (row * self.width + column) * 3;
        for (channel, ink) in self.pixels[at..at + 3].iter_mut().zip(colour) {
            let kept = 1.0 - share + share * ink;
            *channel = (f32::from(*channel) * kept + 0.5) as u8;
        }
    }
}
