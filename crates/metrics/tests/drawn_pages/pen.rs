//! A pen that writes letters of our own on a sheet.

mod ink;
mod letters;
mod writing;

pub use writing::Written;

use image::{GrayImage, Luma, RgbImage};
use metrics::Page;
use units::{Expectation, Frame, LetterModel, Mm, Paper, Ratio, Ruling, ScaleSource};

/// What is drawn. Lengths in millimetres, angles in degrees.
#[derive(Debug, Clone)]
pub struct Sheet {
    pub text: Vec<&'static str>,
    pub text_known: bool,
    pub px_per_mm: f64,
    /// Height of the middle of a short letter's strokes.
    pub height: f64,
    pub pen: f64,
    pub slant: f64,
    /// Of every line; + climbs.
    pub drift: f64,
    /// How far letters stand above and below their line, in turn.
    pub wobble: f64,
    /// White between letters and between words.
    pub letter_gap: f64,
    pub word_gap: f64,
    pub pitch: Option<f64>,
    /// How far everything is turned on the sheet, + clockwise.
    pub turn: f64,
    /// The frame claims this many times the true millimetres.
    pub scale_error: f64,
    /// Line and word that is struck through.
    pub strike: Option<(usize, usize)>,
    /// How letters are joined.
    pub joins: Joins,
    /// Whether every round letter is left open at its top.
    pub open: bool,
    /// What is amiss with every letter that a star stands before in the text.
    pub flaw: Option<Flaw>,
    /// What the pupil is taught; by default what goes with the joins.
    pub model: Option<LetterModel>,
}

/// How one letter leads to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joins {
    /// Not at all, in a hand that does not join.
    Unjoined,
    /// From the foot by a diagonal; from an o at its top.
    Sound,
    /// The same, but from every second o by way of the line.
    Dipping,
    /// Not at all, in a hand that joins.
    Left,
}

impl Default for Sheet {
    fn default() -> Self {
        Self {
            text: vec![
                "a tall hat and a pool",
                "i had a thin old lion",
                "pull it until noon",
                "a lap and a dull loop",
            ],
            text_known: true,
            px_per_mm: 8.0,
            height: 2.6,
            pen: 0.5,
            slant: 0.0,
            drift: 0.0,
            wobble: 0.0,
            letter_gap: 0.9,
            word_gap: 3.6,
            pitch: Some(10.0),
            turn: 0.0,
            scale_error: 1.0,
            strike: None,
            joins: Joins::Unjoined,
            open: false,
            flaw: None,
            model: None,
        }
    }
}

/// One thing amiss with the letters that a star stands before. Lengths in heights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flaw {
    /// A bowl left open at its top.
    Open,
    /// A d in two parts with so much white between them.
    Apart(f64),
    /// An e whose eye is filled.
    Filled,
    /// Left and right changed.
    Mirrored,
    /// An i or j without its dot …
    NoDot,
    /// … or with one, higher than wide, that begins so high.
    LowDot(f64),
    /// A t or f without its bar.
    NoBar,
    /// A tall letter that ends so high.
    Stunted(f64),
    /// A tail that ends so low.
    Shallow(f64),
    /// A bowl so high.
    HighBowl(f64),
    /// The join leaves at the top of the letter.
    LeavesHigh,
}

/// A pen's way, x to the right.
type Stroke = Vec<(f64, f64)>;

impl Sheet {
    pub fn short_height(&self) -> f64 {
        self.height + self.pen
    }

    pub fn ascender_ratio(&self) -> f64 {
        (letters::TALL * self.height + self.pen) / self.short_height()
    }

    pub fn descender_ratio(&self) -> f64 {
        letters::TAIL * self.height / self.short_height()
    }

    pub fn o_width(&self) -> f64 {
        2.0 * letters::RING * self.height + self.pen
    }

    pub fn word_gap_in_o(&self) -> f64 {
        self.word_gap / self.o_width()
    }

    /// The same sheet with everything larger, at the same pixels for each millimetre.
    pub fn enlarged(&self, by: f64) -> Self {
        Self {
            height: self.height * by,
            pen: self.pen * by,
            letter_gap: self.letter_gap * by,
            word_gap: self.word_gap * by,
            pitch: self.pitch.map(|p| p * by),
            ..self.clone()
        }
    }

    pub fn expectation(&self) -> Expectation {
        Expectation {
            paper: Paper::A5,
            ruling: self
                .pitch
                .map_or(Ruling::Plain, |p| Ruling::Lines { pitch: Mm(p) }),
            model: match (&self.model, self.joins) {
                (Some(model), _) => model.clone(),
                (None, Joins::Unjoined) => LetterModel::unjoined(),
                _ => LetterModel::part_joined(),
            },
            // As an adult types it: what was crossed out is left out.
            text: self
                .text_known
                .then(|| (0..self.text.len()).map(|row| self.typed(row)).collect()),
            minutes: None,
            amendments: Vec::new(),
        }
    }

    fn size(&self) -> (f64, f64) {
        let rows = self.text.len().max(2) as f64 + 3.0;
        let pitch = self.pitch.unwrap_or(10.0);
        (self.height / 2.6 * 108.0, rows * pitch)
    }

    fn canvas(&self) -> GrayImage {
        let (w, h) = self.size();
        let px = |mm: f64| (mm * self.px_per_mm).round() as u32;
        GrayImage::from_pixel(px(w), px(h), Luma([226]))
    }

    pub fn page(&self) -> Page {
        let mut canvas = self.canvas();
        let (w, h) = self.size();
        let pitch = self.pitch.unwrap_or(10.0);
        if self.pitch.is_some() {
            let rows = (h / pitch) as i32 + 2;
            for k in -2..rows {
                let y = f64::from(k) * pitch;
                self.stroke(&mut canvas, &[(-w, y), (2.0 * w, y)], 0.25, 0.3);
            }
        }
        let written = self.written();
        let strike = self.strike_out(&written);
        for stroke in written.iter().flat_map(Written::strokes).chain(&strike) {
            self.stroke(&mut canvas, stroke, self.pen, 0.8);
        }
        self.flat(canvas)
    }

    /// A page of the same size with every pixel as given.
    pub fn filled(&self, value: impl Fn(u32, u32) -> u8) -> Page {
        let size = self.canvas().dimensions();
        self.flat(GrayImage::from_fn(size.0, size.1, |x, y| {
            Luma([value(x, y)])
        }))
    }

    /// A grey page of another size.
    pub fn cut(&self, width: u32, height: u32) -> Page {
        self.flat(GrayImage::from_pixel(width, height, Luma([180])))
    }

    fn flat(&self, grey: GrayImage) -> Page {
        let px_per_mm = self.px_per_mm / self.scale_error;
        let rgb = RgbImage::from_fn(grey.width(), grey.height(), |x, y| {
            let v = grey.get_pixel(x, y)[0];
            image::Rgb([v, v, v])
        });
        Page {
            frame: Frame {
                width: Mm(f64::from(grey.width()) / px_per_mm),
                height: Mm(f64::from(grey.height()) / px_per_mm),
                px_per_mm,
                to_photo: None,
                scale_source: ScaleSource::Paper,
                scale_se: Ratio(0.005),
            },
            rgb,
            grey,
            photo_size: None,
        }
    }
}
