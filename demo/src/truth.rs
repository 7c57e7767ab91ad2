//! What is true of a drawn page: where everything is, and what its measures are.
//! Formulas and file layout: `tests/pages/README.md`.

use std::collections::BTreeMap;

use serde::Serialize;
use units::{BoxMm, CorrectionKind, LetterModel};

use crate::measures;
use crate::outline::{bounds, union};
use crate::paper::Sheet;
use crate::plane::{Homography, corners};
use crate::writing::{Writing, WrittenLetter};

/// A box as `[x0, y0, x1, y1]`, mm.
type Box4 = [f64; 4];

/// Everything that is true of one photograph.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Width and height of the sheet, mm.
    pub page_size_mm: [f64; 2],
    /// Width and height of the upright photograph, px.
    pub photo_px: [u32; 2],
    /// Row-major matrix from millimetres to pixels of the upright photograph.
    pub mm_to_px: [f64; 9],
    /// The sheet's corners in the photograph: top left, top right, bottom right, bottom left.
    pub corners_px: [[f64; 2]; 4],
    /// Heights of the rules that letters stand on, mm from the top.
    pub rules_mm: Vec<f64>,
    /// Every measure; `null` where the page has no evidence for it.
    pub measures: BTreeMap<&'static str, Option<f64>>,
    /// Lines of writing.
    pub lines: Vec<LineTruth>,
    /// Words.
    pub words: Vec<WordTruth>,
    /// Letters.
    pub letters: Vec<LetterTruth>,
    /// Corrections.
    pub corrections: Vec<CorrectionTruth>,
}

/// A line of writing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineTruth {
    /// All its ink.
    #[serde(rename = "box")]
    pub bounds: Box4,
    /// Where letters were set: two points.
    pub baseline: [[f64; 2]; 2],
    /// Slope of the letters' bottoms, degrees, + climbs; `null` on a short line.
    pub drift: Option<f64>,
}

/// A word.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WordTruth {
    /// Index of its line.
    pub line: usize,
    /// What was written.
    pub text: String,
    /// All ink of its letters.
    #[serde(rename = "box")]
    pub bounds: Box4,
    /// Whether it was taken back.
    #[serde(skip_serializing_if = "core::ops::Not::not")]
    pub struck: bool,
}

/// A letter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LetterTruth {
    /// Index of its word.
    pub word: usize,
    /// The character meant.
    pub char: char,
    /// Its ink without dots.
    #[serde(rename = "box")]
    pub bounds: Box4,
    /// Where it was set, mm from the top.
    pub base: f64,
    /// Whether a correction lies on it.
    #[serde(skip_serializing_if = "core::ops::Not::not")]
    pub corrected: bool,
}

/// A correction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CorrectionTruth {
    /// How it was done.
    pub kind: CorrectionKind,
    /// All ink of the word and of the mark.
    #[serde(rename = "box")]
    pub bounds: Box4,
}

/// The truth of a writing on a sheet, seen through a view.
pub fn of(
    writing: &Writing,
    sheet: &Sheet,
    model: &LetterModel,
    view: &Homography,
    photo_px: [u32; 2],
) -> Truth {
    let (width, height) = sheet.size();
    let letters = letters(writing);
    let scale = 1.0 / view.0[8];
    Truth {
        page_size_mm: [width, height],
        photo_px,
        mm_to_px: view.0.map(|value| value * scale),
        corners_px: corners((width, height)).map(|corner| {
            let (x, y) = view.apply(corner);
            [round(x, 2), round(y, 2)]
        }),
        rules_mm: sheet.rules(),
        measures: measures::of(writing, sheet, model),
        lines: lines(writing),
        words: words(writing),
        letters,
        corrections: writing
            .corrections
            .iter()
            .map(|found| CorrectionTruth {
                kind: found.kind,
                bounds: four(found.bounds),
            })
            .collect(),
    }
}

pub(crate) fn round(value: f64, places: i32) -> f64 {
    let scale = f64::from(10_i32.pow(places as u32));
    (value * scale).round() / scale
}

fn four(found: BoxMm) -> Box4 {
    [found.x0, found.y0, found.x1, found.y1].map(|edge| round(edge.0, 3))
}

fn ink<'a>(letters: impl Iterator<Item = &'a WrittenLetter>) -> Option<BoxMm> {
    letters.filter_map(WrittenLetter::bounds).reduce(union)
}

fn letters(writing: &Writing) -> Vec<LetterTruth> {
    writing
        .letters
        .iter()
        .filter_map(|letter| {
            Some(LetterTruth {
                word: letter.word,
                char: letter.char,
                bounds: four(bounds(&letter.body)?),
                base: round(letter.base, 3),
                corrected: letter.corrected,
            })
        })
        .collect()
}

fn words(writing: &Writing) -> Vec<WordTruth> {
    writing
        .words
        .iter()
        .enumerate()
        .filter_map(|(index, word)| {
            Some(WordTruth {
                line: word.line,
                text: word.text.clone(),
                bounds: four(ink(writing.letters.iter().filter(|l| l.word == index))?),
                struck: word.struck.is_some(),
            })
        })
        .collect()
}

fn lines(writing: &Writing) -> Vec<LineTruth> {
    writing
        .lines
        .iter()
        .enumerate()
        .filter_map(|(index, line)| {
            let bounds = ink(writing.letters.iter().filter(|letter| letter.line == index))?;
            let end = |x: f64| [round(x, 3), round(line.base(x), 3)];
            Some(LineTruth {
                bounds: four(bounds),
                baseline: [end(bounds.x0.0), end(bounds.x1.0)],
                drift: measures::line_fit(writing, index)
                    .map(|fit| round(libm::atan(-fit.slope).to_degrees(), 4)),
            })
        })
        .collect()
}
