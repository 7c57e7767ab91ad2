//! What stands on a sheet once a hand has written on it, in millimetres.

use units::{BoxMm, CorrectionKind};

use crate::outline::{Outline, bounds, extent, union};

/// A letter on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenLetter {
    /// Index into [`Writing::lines`].
    pub line: usize,
    /// Index into [`Writing::words`].
    pub word: usize,
    /// The character meant.
    pub char: char,
    /// Ink without dots, mm.
    pub body: Outline,
    /// Dots of i and j, mm.
    pub dots: Outline,
    /// Where the letter was set, mm down the sheet.
    pub base: f64,
    /// Height of a short letter of this size, mm.
    pub x_height: f64,
    /// Darkness of the stroke, about 1.
    pub pressure: f64,
    /// Whether a correction lies on it.
    pub corrected: bool,
    /// Whether the shape as drawn stands on the line and, if short, has a short letter's height.
    pub standard: bool,
}

impl WrittenLetter {
    /// All its ink.
    pub fn bounds(&self) -> Option<BoxMm> {
        match (bounds(&self.body), bounds(&self.dots)) {
            (Some(body), Some(dots)) => Some(union(body, dots)),
            (body, dots) => body.or(dots),
        }
    }

    /// Moves it, mm.
    pub(crate) fn shift(&mut self, dx: f64, dy: f64) {
        for point in self.body.iter_mut().chain(&mut self.dots).flatten() {
            point.x += dx;
            point.y += dy;
        }
        self.base += dy;
    }
}

/// A word on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenWord {
    /// Index into [`Writing::lines`].
    pub line: usize,
    /// What was written.
    pub text: String,
    /// How it was taken back, if it was.
    pub struck: Option<CorrectionKind>,
}

/// A line on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenLine {
    /// The rule under it, mm down; on plain paper where the writer meant it to be.
    pub rule: f64,
    /// Left end of the baseline, mm.
    pub left: f64,
    /// Height of the baseline above the rule at the left end, mm.
    pub offset: f64,
    /// Climb, as a slope.
    pub slope: f64,
    /// Lean added to the shapes' own, degrees.
    pub slant: f64,
}

impl WrittenLine {
    /// Where letters are set at `x`, mm down.
    pub fn base(&self, x: f64) -> f64 {
        self.rule - self.offset - self.slope * (x - self.left)
    }
}

/// A correction on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenCorrection {
    /// How it was done.
    pub kind: CorrectionKind,
    /// All ink of the word and of the mark.
    pub bounds: BoxMm,
}

/// Everything written on one sheet.
#[derive(Debug, Clone, Default)]
pub struct Writing {
    /// Lines, top to bottom.
    pub lines: Vec<WrittenLine>,
    /// Words in order of writing.
    pub words: Vec<WrittenWord>,
    /// Letters in order of writing.
    pub letters: Vec<WrittenLetter>,
    /// Corrections in order of writing.
    pub corrections: Vec<WrittenCorrection>,
    /// Ink that is no letter: strike lines, brackets, and letters that were written over.
    pub marks: Vec<Outline>,
    /// Words that found no room.
    pub left_over: usize,
}

impl Writing {
    /// The text line by line as an adult would type it: words taken back are left out.
    pub fn text(&self) -> Vec<String> {
        (0..self.lines.len())
            .map(|line| {
                let kept: Vec<&str> = self
                    .words
                    .iter()
                    .filter(|word| word.line == line && word.struck.is_none())
                    .map(|word| word.text.as_str())
                    .collect();
                kept.join(" ")
            })
            .collect()
    }
}

/// The smallest white between two letters on the rows of the x-zone that both have ink on, mm;
/// negative where they overlap. `None` where there is no such row.
pub fn white_between(left: &WrittenLetter, right: &WrittenLetter) -> Option<f64> {
    const ROWS: usize = 40;
    let base = (left.base + right.base) / 2.0;
    let height = (left.x_height + right.x_height) / 2.0;
    (0..ROWS)
        .filter_map(|row| {
            let y = base - height * (row as f64 + 0.5) / ROWS as f64;
            Some(extent(&right.body, y)?.0 - extent(&left.body, y)?.1)
        })
        .min_by(f64::total_cmp)
}
