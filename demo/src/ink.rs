//! Pencil and pen: how written outlines look on the sheet.

use crate::noise::Noise;
use crate::outline::Point;
use crate::paper::Colour;
use crate::raster::{Layer, fill};
use crate::writing::Writing;

/// What is written with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tool {
    /// Colour of full ink.
    pub colour: Colour,
    /// How much of the paper full ink hides, 0 to 1.
    pub strength: f32,
    /// How far the paper's tooth breaks the stroke up, 0 to 1.
    pub grain: f32,
}

impl Tool {
    /// A soft pencil.
    pub const PENCIL: Self = Self {
        colour: [0.20, 0.20, 0.22],
        strength: 0.82,
        grain: 0.42,
    };
    /// A hard pencil.
    pub const HARD_PENCIL: Self = Self {
        colour: [0.30, 0.30, 0.32],
        strength: 0.72,
        grain: 0.40,
    };
    /// A blue pen.
    pub const BLUE_PEN: Self = Self {
        colour: [0.10, 0.16, 0.46],
        strength: 0.93,
        grain: 0.10,
    };
    /// A black pen.
    pub const BLACK_PEN: Self = Self {
        colour: [0.10, 0.10, 0.12],
        strength: 0.93,
        grain: 0.10,
    };
}

/// Puts a writing onto the sheet.
pub fn apply(layer: &mut Layer, writing: &Writing, tool: &Tool, noise: &Noise) {
    // Ink is collected first and put on once: crossing strokes do not add up to black.
    let mut density = vec![0_u8; layer.width * layer.height];
    for letter in &writing.letters {
        lay(&mut density, layer, &letter.body, letter.pressure as f32);
        lay(&mut density, layer, &letter.dots, letter.pressure as f32);
    }
    for mark in &writing.marks {
        lay(&mut density, layer, mark, 0.98);
    }
    let scale = 1.0 / layer.px_per_mm as f32;
    for row in 0..layer.height {
        for column in 0..layer.width {
            let ink = density[row * layer.width + column];
            if ink == 0 {
                continue;
            }
            let (x, y) = (column as f32 * scale, row as f32 * scale);
            let tooth = noise.at(x * 7.0, y * 7.0) * 0.6 + noise.at(x * 1.1, y * 0.9) * 0.4;
            let share = f32::from(ink) / 255.0 * tool.strength * (1.0 + tool.grain * tooth);
            layer.stain(column, row, share.clamp(0.0, 1.0), tool.colour);
        }
    }
}

fn lay(density: &mut [u8], layer: &Layer, outline: &[Vec<Point>], pressure: f32) {
    if outline.is_empty() {
        return;
    }
    let cover = fill(outline, layer.px_per_mm);
    for (index, alpha) in cover.alpha.iter().enumerate() {
        let column = cover.left + (index % cover.width) as i32;
        let row = cover.top + (index / cover.width) as i32;
        let inside =
            (0..layer.width as i32).contains(&column) && (0..layer.height as i32).contains(&row);
        if *alpha > 0 && inside {
            let at = row as usize * layer.width + column as usize;
            let ink = (f32::from(*alpha) * pressure).min(255.0) as u8;
            density[at] = density[at].max(ink);
        }
    }
}
