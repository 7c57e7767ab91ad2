//! A pen that writes a few letters of our own on a sheet.

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
        }
    }
}

/// How far a tall letter and a tail reach, in heights.
const TALL: f64 = 1.7;
const TAIL: f64 = 0.7;
const RING: f64 = 0.42;

type Stroke = Vec<(f64, f64)>;

fn ring(open: bool) -> Stroke {
    // An eighth is left out about the top.
    let turn = if open { 7.0 / 8.0 } else { 1.0 };
    (0..=32)
        .map(|k| on_ring(0.25 + (1.0 - turn) / 2.0 + turn * f64::from(k) / 32.0))
        .collect()
}

/// A place on the ring, from its right end by the top, in turns.
fn on_ring(turns: f64) -> (f64, f64) {
    let a = turns * core::f64::consts::TAU;
    (RING + RING * a.cos(), 0.5 + 0.5 * a.sin())
}

/// Where a join leaves a letter.
fn exit(c: char, dips: bool) -> (f64, f64) {
    match c {
        'o' => on_ring(if dips { 7.0 / 8.0 } else { 1.0 / 8.0 }),
        'a' | 'd' => (2.0 * RING, 0.0),
        'h' | 'n' | 'u' => (0.7, 0.0),
        't' => (0.28, 0.0),
        _ => (0.0, 0.0),
    }
}

/// Where a join comes to a letter.
fn entry(c: char) -> (f64, f64) {
    match c {
        'o' | 'a' | 'd' => on_ring(3.0 / 8.0),
        't' => (0.28, 0.8),
        _ => (0.0, 0.8),
    }
}

fn arch() -> Stroke {
    let points = [
        (0.0, 0.6),
        (0.1, 0.88),
        (0.35, 1.0),
        (0.6, 0.9),
        (0.7, 0.6),
        (0.7, 0.0),
    ];
    points.to_vec()
}

/// A letter's strokes from its left edge, x to the right and y up, in heights.
fn letter(c: char, open: bool) -> Vec<Stroke> {
    let line = |x0, y0, x1, y1| vec![(x0, y0), (x1, y1)];
    let right = 2.0 * RING;
    match c {
        'o' => vec![ring(open)],
        'a' => vec![ring(open), line(right, 0.0, right, 1.0)],
        'd' => vec![ring(open), line(right, 0.0, right, TALL)],
        'p' => vec![ring(open), line(0.0, -TAIL, 0.0, 1.0)],
        'l' => vec![line(0.0, 0.0, 0.0, TALL)],
        'h' => vec![line(0.0, 0.0, 0.0, TALL), arch()],
        'n' => vec![line(0.0, 0.0, 0.0, 1.0), arch()],
        'u' => vec![
            line(0.7, 0.0, 0.7, 1.0),
            arch()
                .into_iter()
                .map(|(x, y)| (0.7 - x, 1.0 - y))
                .collect(),
        ],
        't' => vec![line(0.28, 0.0, 0.28, 1.35), line(0.0, 1.0, 0.56, 1.0)],
        'i' => vec![line(0.0, 0.0, 0.0, 1.0), line(0.0, 1.42, 0.0, 1.45)],
        other => panic!("the pen knows no {other}"),
    }
}

impl Sheet {
    pub fn short_height(&self) -> f64 {
        self.height + self.pen
    }

    pub fn ascender_ratio(&self) -> f64 {
        (TALL * self.height + self.pen) / self.short_height()
    }

    pub fn descender_ratio(&self) -> f64 {
        TAIL * self.height / self.short_height()
    }

    pub fn o_width(&self) -> f64 {
        2.0 * RING * self.height + self.pen
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
            model: match self.joins {
                Joins::Unjoined => LetterModel::Unjoined,
                _ => LetterModel::Joined,
            },
            // As an adult types it: what was crossed out is left out.
            text: self
                .text_known
                .then(|| (0..self.text.len()).map(|row| self.typed(row)).collect()),
            minutes: None,
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
        for (row, text) in self.text.iter().enumerate() {
            self.write(&mut canvas, row, text, (row + 2) as f64 * pitch);
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

    fn typed(&self, row: usize) -> String {
        let words = self.text[row].split(' ').enumerate();
        let kept = words.filter(|(index, _)| self.strike != Some((row, *index)));
        kept.map(|(_, word)| word).collect::<Vec<_>>().join(" ")
    }

    fn write(&self, canvas: &mut GrayImage, row: usize, text: &str, base: f64) {
        let margin = 6.0 * self.height / 2.6;
        let mut x = margin;
        let lean = self.slant.to_radians().tan();
        for (index, word) in text.split(' ').enumerate() {
            let start = x;
            let mut before: Option<(char, f64)> = None;
            for (k, c) in word.chars().enumerate() {
                let strokes = letter(c, self.open);
                let width = strokes.iter().flatten().map(|p| p.0).fold(0.0, f64::max);
                let up = if k % 2 == 0 {
                    self.wobble
                } else {
                    -self.wobble
                };
                let climb = (x - margin) * self.drift.to_radians().tan();
                let foot = base - up - climb;
                for stroke in &strokes {
                    let placed: Stroke = stroke
                        .iter()
                        .map(|(sx, sy)| {
                            let h = sy * self.height;
                            let left = x + self.pen / 2.0 + sx * self.height;
                            (left + lean * h, foot - h)
                        })
                        .collect();
                    self.stroke(canvas, &placed, self.pen, 0.8);
                }
                if let Some((last, left)) = before {
                    let dips = self.joins == Joins::Dipping && last == 'o' && k % 2 == 0;
                    let at = |left: f64, (sx, sy): (f64, f64)| {
                        (
                            left + self.pen / 2.0 + sx * self.height,
                            foot - sy * self.height,
                        )
                    };
                    let (from, to) = (at(left, exit(last, dips)), at(x, entry(c)));
                    let low = (0.5 * (from.0 + to.0), foot - 0.05 * self.height);
                    let way = if dips {
                        vec![from, low, to]
                    } else {
                        vec![from, to]
                    };
                    if matches!(self.joins, Joins::Sound | Joins::Dipping) {
                        self.stroke(canvas, &way, self.pen, 0.8);
                    }
                }
                before = Some((c, x));
                x += width * self.height + self.pen + self.letter_gap;
            }
            if self.strike == Some((row, index)) {
                let y = base - 0.5 * self.height;
                self.stroke(
                    canvas,
                    &[(start - 0.6, y), (x - 0.2, y + 0.2)],
                    self.pen,
                    0.8,
                );
            }
            x += self.word_gap - self.letter_gap;
        }
    }

    /// Draws a line of round pen marks, turned with the sheet; the darker of two marks stays.
    fn stroke(&self, canvas: &mut GrayImage, points: &[(f64, f64)], width: f64, dark: f64) {
        let (w, h) = self.size();
        let (sin, cos) = self.turn.to_radians().sin_cos();
        let place = |p: &(f64, f64)| {
            let (x, y) = (p.0 - w / 2.0, p.1 - h / 2.0);
            let turned = (w / 2.0 + x * cos - y * sin, h / 2.0 + x * sin + y * cos);
            (turned.0 * self.px_per_mm, turned.1 * self.px_per_mm)
        };
        let half = width / 2.0 * self.px_per_mm;
        for pair in points.windows(2) {
            let (a, b) = (place(&pair[0]), place(&pair[1]));
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let long = (dx * dx + dy * dy).max(1e-9);
            let span = |p: f64, q: f64, end: u32| {
                let first = (p.min(q) - half - 1.0).max(0.0) as u32;
                first..((p.max(q) + half + 2.0).max(0.0) as u32).min(end)
            };
            for y in span(a.1, b.1, canvas.height()) {
                for x in span(a.0, b.0, canvas.width()) {
                    let (px, py) = (f64::from(x) + 0.5 - a.0, f64::from(y) + 0.5 - a.1);
                    let t = ((px * dx + py * dy) / long).clamp(0.0, 1.0);
                    let away = (px - t * dx).hypot(py - t * dy);
                    let covered = (half - away + 0.5).clamp(0.0, 1.0);
                    let shade = (226.0 * (1.0 - dark * covered)).round() as u8;
                    let pixel = canvas.get_pixel_mut(x, y);
                    pixel[0] = pixel[0].min(shade);
                }
            }
        }
    }
}
