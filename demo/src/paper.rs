//! The sheet: its size, what is printed on it, and how its surface looks.

use units::{Paper, Ruling};

use crate::noise::Noise;
use crate::raster::Layer;

/// Red, green and blue, 0 to 1.
pub type Colour = [f32; 3];

/// A sheet of paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its format.
    pub paper: Paper,
    /// What is printed on it.
    pub ruling: Ruling,
    /// Height of the first rule, mm from the top.
    pub first: f64,
    /// Colour of the rules.
    pub rule_colour: Colour,
    /// Thickness of the rules, mm.
    pub rule_width: f64,
    /// A red margin line, mm from the left.
    pub margin: Option<f64>,
    /// Colour of the paper.
    pub tint: Colour,
}

/// Feint blue.
pub const BLUE: Colour = [0.55, 0.68, 0.86];
/// Feint grey.
pub const GREY: Colour = [0.68, 0.69, 0.71];
/// White paper.
pub const WHITE: Colour = [0.965, 0.965, 0.955];
/// Cream paper.
pub const CREAM: Colour = [0.965, 0.94, 0.87];
const MARGIN_RED: Colour = [0.88, 0.52, 0.54];

impl Sheet {
    /// White paper with feint blue rules.
    pub fn new(paper: Paper, ruling: Ruling) -> Self {
        Self {
            paper,
            ruling,
            first: match paper {
                Paper::A5 => 20.0,
                _ => 28.0,
            },
            rule_colour: BLUE,
            rule_width: 0.2,
            margin: None,
            tint: WHITE,
        }
    }

    /// Width and height, mm.
    pub fn size(&self) -> (f64, f64) {
        let (width, height) = self.paper.size();
        (width.0, height.0)
    }

    /// Heights of the rules that letters stand on, mm from the top; none on plain paper.
    pub fn rules(&self) -> Vec<f64> {
        let Some(pitch) = self.ruling.line_pitch() else {
            return Vec::new();
        };
        let end = self.size().1 - 9.0;
        let count = ((end - self.first) / pitch.0).max(0.0) as usize;
        (0..=count)
            .map(|index| self.first + pitch.0 * index as f64)
            .collect()
    }

    /// Heights at which lines are written, mm from the top.
    pub fn written_lines(&self, x_height: f64) -> impl Iterator<Item = f64> {
        let rules = self.rules();
        let lines: Vec<f64> = if rules.is_empty() {
            let pitch = (3.4 * x_height).max(8.0);
            let end = self.size().1 - 16.0;
            (0..)
                .map(|index| self.first + pitch * f64::from(index))
                .take_while(|y| *y < end)
                .collect()
        } else {
            rules.into_iter().skip(1).collect()
        };
        lines.into_iter()
    }

    /// Left and right end of the room for writing, mm.
    pub fn room(&self) -> (f64, f64) {
        let left = self.margin.map_or(13.0, |margin| margin + 2.5);
        (left, self.size().0 - 9.0)
    }

    /// The sheet with its print, without writing.
    pub fn print(&self, px_per_mm: f64, noise: &Noise) -> Layer {
        let (width, height) = self.size();
        let mut layer = Layer::new(width, height, px_per_mm, self.tint);
        fibres(&mut layer, noise);
        let (rule, colour) = (self.rule_width, self.rule_colour);
        let across = |layer: &mut Layer, y: f64, thick: f64| {
            layer.tint_rect((0.0, y - thick / 2.0), (width, y + thick / 2.0), colour);
        };
        match self.ruling {
            Ruling::Plain => {}
            Ruling::Lines { .. } => {
                for y in self.rules() {
                    across(&mut layer, y, rule);
                }
            }
            Ruling::FourLine { inner, .. } => {
                for y in self.rules() {
                    for (step, thick) in [(-2.0, 0.8), (-1.0, 1.0), (0.0, 1.0), (1.0, 0.8)] {
                        across(&mut layer, y + step * inner.0, rule * thick);
                    }
                }
            }
            Ruling::Squares { side, .. } => {
                let (left, top) = (5.0, self.first % side.0);
                for y in steps(top, side.0, height) {
                    across(&mut layer, y, rule);
                }
                for x in steps(left, side.0, width) {
                    layer.tint_rect((x - rule / 2.0, 0.0), (x + rule / 2.0, height), colour);
                }
            }
        }
        if let Some(x) = self.margin {
            layer.tint_rect((x - rule / 2.0, 0.0), (x + rule / 2.0, height), MARGIN_RED);
        }
        layer
    }
}

fn steps(from: f64, step: f64, end: f64) -> impl Iterator<Item = f64> {
    (0..)
        .map(move |index| from + step * f64::from(index))
        .take_while(move |at| *at < end)
}

/// Slight cloudiness and fibres, so that blank paper is not one flat number.
fn fibres(layer: &mut Layer, noise: &Noise) {
    let scale = 1.0 / layer.px_per_mm as f32;
    let width = layer.width;
    for (index, pixel) in layer.pixels.chunks_exact_mut(3).enumerate() {
        let (x, y) = (
            (index % width) as f32 * scale,
            (index / width) as f32 * scale,
        );
        let cloud = noise.at(x * 0.35, y * 0.35) * 2.2 + noise.at(x * 3.1, y * 2.3 + 7.0) * 1.6;
        for channel in pixel {
            *channel = (f32::from(*channel) + cloud).clamp(0.0, 255.0) as u8;
        }
    }
}
