//! One page, from what is wanted to the bytes of a photograph and its truth.

use units::LetterModel;

use crate::camera::{self, Camera, Scene};
use crate::desk::{Desk, Top};
use crate::font::Fonts;
use crate::hand::Hand;
use crate::ink::{self, Tool};
use crate::light::Light;
use crate::noise::Noise;
use crate::paper::Sheet;
use crate::truth::{self, Truth};
use crate::writer;

/// Everything that a drawn page follows from.
#[derive(Debug, Clone)]
pub struct PageSpec {
    /// Seed of all chance.
    pub seed: u64,
    /// What is written; `\n` begins a new line.
    pub text: String,
    /// The hand.
    pub hand: Hand,
    /// What it writes with.
    pub tool: Tool,
    /// The sheet.
    pub sheet: Sheet,
    /// The table.
    pub top: Top,
    /// How many things lie on it.
    pub clutter: usize,
    /// The light.
    pub light: Light,
    /// The camera.
    pub camera: Camera,
}

/// A drawn page.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// The photograph, a JPEG.
    pub jpeg: Vec<u8>,
    /// What is true of it.
    pub truth: Truth,
    /// The text as written, line by line, as an adult would type it.
    pub text: Vec<String>,
    /// Words that found no room on the sheet.
    pub left_over: usize,
}

impl PageSpec {
    /// The letters that are taught to who writes so.
    pub fn model(&self) -> LetterModel {
        self.hand.shapes.model()
    }

    /// Draws the page. The same spec gives the same bytes.
    pub fn draw(&self, fonts: &Fonts) -> Drawn {
        let noise = Noise::new(self.seed);
        let writing = writer::write(fonts, &self.text, &self.sheet, &self.hand, self.seed);
        let size = self.sheet.size();
        let view = self.camera.view(size);
        let mut layer = self.sheet.print(layer_scale(&self.camera, size), &noise);
        ink::apply(&mut layer, &writing, &self.tool, &noise);
        let desk = Desk::new(self.top, self.clutter, size, self.seed);
        let scene = Scene {
            sheet: &layer,
            size,
            desk: &desk,
            light: &self.light,
            noise: &noise,
            seed: self.seed,
        };
        let photo_px = [self.camera.width, self.camera.height];
        Drawn {
            jpeg: camera::photograph(&self.camera, &scene),
            truth: truth::of(&writing, &self.sheet, &self.model(), &view, photo_px),
            text: writing.text(),
            left_over: writing.left_over,
        }
    }
}

/// Pixels for each millimetre of the flat sheet: a little finer than the photograph.
fn layer_scale(camera: &Camera, size: (f64, f64)) -> f64 {
    let view = camera.view(size);
    let (a, b) = (view.apply((0.0, size.1)), view.apply((size.0, size.1)));
    let across = libm::hypot(b.0 - a.0, b.1 - a.1) / size.0;
    (across * 1.3).clamp(8.0, 16.0)
}
