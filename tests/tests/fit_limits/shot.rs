//! One photograph measured: its checks, and what the reading is off by.

use demo::font::Fonts;
use demo::page::Drawn;
use units::{BoxMm, Expectation, FitCheck, FitFault, Fitness, MeasureName, Outcome, Reading};

use crate::wrong::{Writer, Wrong, burn, spec};

/// What a reading is off by.
#[derive(Debug, Clone, Copy)]
pub struct Errors {
    /// Of the x-height, as a share.
    pub x_height: Option<f64>,
    /// Degrees.
    pub slant: Option<f64>,
    /// Widths of an o.
    pub word_gap: Option<f64>,
    /// Shares found.
    pub words: f64,
    pub letters: f64,
}

/// One photograph: its checks, and what the reading is off by.
pub struct Shot {
    pub fitness: Fitness,
    pub errors: Errors,
}

impl Shot {
    /// `None` where no sheet was found.
    pub fn take(fonts: &Fonts, writer: &Writer, wrong: Option<&Wrong>, seed: u64) -> Option<Self> {
        let spec = spec(writer, wrong, seed);
        let drawn = spec.draw(fonts);
        let expect = Expectation {
            paper: spec.sheet.paper,
            ruling: spec.sheet.ruling,
            model: spec.model(),
            text: Some(drawn.text.clone()),
            minutes: None,
            amendments: Vec::new(),
        };
        let mut photo = metrics::decode(&drawn.jpeg).expect("a photograph");
        if let Some(Wrong::Glare(spot)) = wrong {
            burn(&mut photo, &drawn, *spot);
        }
        let page = metrics::find_page(&photo, &expect).ok()?;
        let fitness = metrics::fitness(&page);
        let reading = metrics::read_page(&page, &expect, fitness.clone());
        Some(Self {
            fitness,
            errors: errors(&reading, &drawn),
        })
    }

    pub fn check(&self, fault: FitFault) -> Option<&FitCheck> {
        self.fitness.checks.iter().find(|c| c.fault == fault)
    }

    /// Faults that the page is refused for.
    pub fn refused(&self) -> Vec<FitFault> {
        let failed = self.fitness.checks.iter().filter(|c| !c.passed);
        failed.map(|c| c.fault).collect()
    }
}

fn errors(reading: &Reading, drawn: &Drawn) -> Errors {
    let off = |name: MeasureName| {
        let found = reading.measures.iter().find(|m| m.name == name)?;
        let Outcome::Measured { value, .. } = found.outcome else {
            return None;
        };
        Some(value - drawn.truth.measures[name.text()]?)
    };
    let x_height = drawn.truth.measures[MeasureName::XHeight.text()];
    let words = reading.words.iter().map(|w| (w.bounds, ' '));
    let letters = reading
        .letters
        .iter()
        .map(|l| (l.bounds, l.char.unwrap_or(' ')));
    let true_words = drawn.truth.words.iter().map(|w| (w.bounds, ' '));
    let true_letters = drawn.truth.letters.iter().map(|l| (l.bounds, l.char));
    Errors {
        x_height: off(MeasureName::XHeight).and_then(|off| Some(off / x_height?)),
        slant: off(MeasureName::Slant),
        word_gap: off(MeasureName::WordGap),
        words: found(true_words, &words.collect::<Vec<_>>()),
        letters: found(true_letters, &letters.collect::<Vec<_>>()),
    }
}

/// Share of the true places that are found: intersection over union at least one half, and the
/// same letter.
fn found(truth: impl Iterator<Item = ([f64; 4], char)>, places: &[(BoxMm, char)]) -> f64 {
    let (mut hits, mut all) = (0.0, 0.0);
    for (own, char) in truth {
        all += 1.0;
        let hit = |(b, other): &(BoxMm, char)| {
            *other == char && overlap(own, [b.x0.0, b.y0.0, b.x1.0, b.y1.0]) >= 0.5
        };
        if places.iter().any(hit) {
            hits += 1.0;
        }
    }
    hits / all
}

/// Intersection over union.
fn overlap(a: [f64; 4], b: [f64; 4]) -> f64 {
    let area = |c: [f64; 4]| (c[2] - c[0]).max(0.0) * (c[3] - c[1]).max(0.0);
    let both = area([
        a[0].max(b[0]),
        a[1].max(b[1]),
        a[2].min(b[2]),
        a[3].min(b[3]),
    ]);
    both / (area(a) + area(b) - both)
}
