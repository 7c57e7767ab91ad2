//! Whether the text that was told is the text of this page, and which of its letters have no ink.
//!
//! Any text can be laid along any ink. What tells the right one is that the ink then reads as the letters
//! meant: with another text only by chance.

use units::{BoxMm, Mm, Skipped, TextFit};

use crate::aspects::Evidence;
use crate::letters::Glyph;
use crate::letters::formed::Formed;
use crate::stats::{mean, round};

/// Mean probability of reading as meant that a page has with its own text: with another's hardly ever more.
const READS: f64 = 0.45;
/// Share of the text's letters that must be found: a page may be broken off early.
const FOUND: f64 = 0.25;
/// A line of so many letters that reads as meant with less than this is another text than was told, or
/// was cut in the wrong places.
const OTHER_LINE: (usize, f64) = (8, 0.3);
/// The confidence that is left to its letters.
const DOUBTED: f64 = 0.3;
/// Most places that are listed.
const MOST: usize = 400;

/// A letter of the text without ink.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lost {
    pub line: usize,
    pub letter: char,
    /// Which of its line's characters it is.
    pub place: usize,
    /// Between which columns of the sheet it would stand.
    pub columns: (f64, f64),
}

/// Lines whose ink reads as another text.
fn other_lines(evidence: &Evidence<'_>, formed: &[Formed]) -> Vec<usize> {
    let of_line = |line: usize| -> Vec<f64> {
        let letters = evidence.glyphs.iter().zip(formed);
        letters
            .filter(|(glyph, _)| glyph.line == line)
            .filter_map(|(_, formed)| Some(formed.reads?.as_meant.0))
            .collect()
    };
    let (least, reads) = OTHER_LINE;
    (0..evidence.lines.len())
        .filter(|line| {
            let all = of_line(*line);
            all.len() >= least && mean(&all).is_some_and(|mean| mean < reads)
        })
        .collect()
}

/// Takes from the letters of some lines what trust they had.
pub(super) fn doubt(glyphs: &mut [Glyph], formed: &mut [Formed], lines: &[usize]) {
    let letters = glyphs.iter_mut().zip(formed);
    for (glyph, formed) in letters.filter(|(glyph, _)| lines.contains(&glyph.line)) {
        glyph.confidence = glyph.confidence.min(DOUBTED);
        glyph.identity = glyph.identity.min(DOUBTED);
        *formed = Formed::default();
    }
}

/// Holds a text of so many letters against what was found of it.
pub(super) fn fit(
    evidence: &Evidence<'_>,
    formed: &[Formed],
    letters: usize,
    lost: &[Lost],
    extra: Vec<BoxMm>,
) -> TextFit {
    let found = sure_letters(evidence);
    let reads: Vec<f64> = formed
        .iter()
        .filter_map(|formed| Some(formed.reads?.as_meant.0))
        .collect();
    let reads = mean(&reads).unwrap_or(0.0);
    let fits = reads >= READS && found as f64 >= FOUND * letters as f64;
    let mut fit = TextFit {
        fits,
        letters: letters as u32,
        found: found as u32,
        other_lines: Vec::new(),
        skipped: Vec::new(),
        extra: Vec::new(),
    };
    if fits {
        fit.other_lines = other_lines(evidence, formed);
        fit.extra = extra.into_iter().take(MOST).collect();
        count(&mut fit, evidence, lost);
    }
    fit
}

/// Counts what was found of a text that fits, and lists what was not.
pub(super) fn count(fit: &mut TextFit, evidence: &Evidence<'_>, lost: &[Lost]) {
    fit.found = sure_letters(evidence) as u32;
    let letters = lost.iter().filter(|lost| lost.letter.is_alphanumeric());
    fit.skipped = letters
        .take(MOST)
        .map(|lost| skipped(evidence, lost))
        .collect();
}

fn sure_letters(evidence: &Evidence<'_>) -> usize {
    evidence.sure().filter(|glyph| glyph.ch.is_some()).count()
}

fn skipped(evidence: &Evidence<'_>, lost: &Lost) -> Skipped {
    let line = &evidence.lines[lost.line];
    let (x0, x1) = lost.columns;
    let x = (x0 + x1) / 2.0;
    let base = line.base_at(x);
    let mm = |px: f64| Mm(round(px * evidence.mm, 2));
    Skipped {
        line: lost.line,
        letter: lost.letter,
        at: BoxMm {
            x0: mm(x0.min(x1)),
            y0: mm(evidence.level.on_sheet(x, base - line.x_height)),
            x1: mm(x0.max(x1)),
            y1: mm(evidence.level.on_sheet(x, base)),
        },
    }
}
