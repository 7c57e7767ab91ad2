//! A flat page → a reading: runs the stages in their order and rounds what they give.

use units::{Correction, CorrectionKind, Expectation, Fitness, LetterModel, Reading};

use crate::Page;
use crate::aspects::{self, Evidence};
use crate::ink::{self, Ink};
use crate::letters::{Glyph, WordInk};
use crate::lines::{self, TextLine};
use crate::pieces::{self, BoxPx, Piece};
use crate::ruling::{self, Level, Pitch, Rulings};
use crate::words::Blob;

mod printed;
mod report;
mod writing;

/// Name and version of the engine, as kept with every reading.
pub const ENGINE: &str = "pothook-metrics/0.2.0";

/// Everything that was found on a page, in pixels.
pub(crate) struct Found {
    pub evened: image::GrayImage,
    pub rulings: Rulings,
    pub level: Level,
    pub ink: Ink,
    pub pieces: Vec<Piece>,
    pub pitch: Option<Pitch>,
    /// Whether the pitch is the expected one.
    pub agrees: bool,
    pub lines: Vec<TextLine>,
    /// Level row of the printed line under each line of writing.
    pub rules: Vec<Option<f64>>,
    pub lean: f64,
    pub blobs: Vec<Vec<Blob>>,
    pub words: Vec<WordInk>,
    pub glyphs: Vec<Glyph>,
    pub corrections: Vec<(CorrectionKind, BoxPx)>,
    pub text_known: bool,
}

/// Reads a page: every measure, or why it was not taken. Never fails.
#[tracing::instrument(level = "trace", name = "read", skip_all)]
pub fn read_page(page: &Page, expect: &Expectation, fitness: Fitness) -> Reading {
    let found = find(page, expect);
    let frame = printed::scaled_frame(page, expect, &found);
    let mm = 1.0 / frame.px_per_mm;
    let evidence = Evidence {
        ink: &found.ink,
        level: &found.level,
        lines: &found.lines,
        rules: &found.rules,
        words: &found.words,
        glyphs: &found.glyphs,
        corrections: &found.corrections,
        lean: found.lean,
        mm,
        scale_se: frame.scale_se.0,
        text_known: found.text_known,
        minutes: expect.minutes,
    };
    Reading {
        engine: ENGINE.to_string(),
        fitness,
        ruling: printed::found(page, expect, &found, mm),
        lines: report::lines(&evidence),
        words: found.words.iter().map(|w| report::word(w, mm)).collect(),
        letters: found
            .glyphs
            .iter()
            .map(|g| report::letter(&evidence, g))
            .collect(),
        joins: match expect.model {
            LetterModel::Joined => report::joins(&evidence),
            LetterModel::Unjoined => Vec::new(),
        },
        corrections: found
            .corrections
            .iter()
            .map(|(kind, b)| Correction {
                kind: *kind,
                bounds: report::box_mm(*b, mm),
            })
            .collect(),
        measures: report::in_order(aspects::all(&evidence)),
        frame,
    }
}

/// Runs every stage up to letters.
pub(crate) fn find(page: &Page, expect: &Expectation) -> Found {
    let px_per_mm = page.frame.px_per_mm;
    let evened = ink::even(&page.grey, px_per_mm);
    let rulings = ruling::find(&evened, px_per_mm, printed::print(expect, px_per_mm));
    let (pitch, agrees) = printed::pitch_of(&rulings, expect, px_per_mm);
    let level = Level::new(&rulings.across);
    let ink = ink::find(&evened, &rulings, px_per_mm);
    let pieces = pieces::writing(&ink, px_per_mm);
    let written = match (agrees, expect.ruling.line_pitch(), pitch) {
        (true, Some(wanted), Some(p)) => Some(p.px * wanted.0 / printed::repeat(expect)),
        _ => None,
    };
    let lines = lines::find(
        pieces.clone(),
        &level,
        page.grey.dimensions(),
        px_per_mm,
        written,
    );
    let mut found = Found {
        evened,
        rulings,
        level,
        ink,
        pieces,
        pitch,
        agrees,
        rules: Vec::new(),
        lines,
        lean: 0.0,
        blobs: Vec::new(),
        words: Vec::new(),
        glyphs: Vec::new(),
        corrections: Vec::new(),
        text_known: false,
    };
    writing::read(&mut found, expect);
    // Where the lines stand is known once their letters are.
    found.rules = printed::rules_under(&found.lines, &found.rulings, written);
    found
}
