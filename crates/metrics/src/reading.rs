//! A flat page → a reading: runs the stages in their order and rounds what they give.

use units::{Amendment, BoxMm, Expectation, Fitness, Frame, Reading, TextFit};

use crate::Page;
use crate::aspects::{self, Evidence, Mended, Text};
use crate::ink::{self, Ink};
use crate::letters::formed::{self, Formed};
use crate::letters::joins::{self, Join};
use crate::letters::{Glyph, WordInk};
use crate::lines::{self, TextLine};
use crate::pieces::{self, Piece};
use crate::ruling::{self, Level, Pitch, Rulings};
use crate::text;
use crate::words::{Along, Blob};

mod amend;
mod printed;
mod report;
mod sheet;
mod text_fit;
mod writing;

/// Name and version of the engine, as kept with every reading.
pub const ENGINE: &str = "pothook-metrics/0.3.0";

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
    pub corrections: Vec<Mended>,
    pub text: Text,
    /// Letters of the text without ink.
    pub lost: Vec<text_fit::Lost>,
    /// Ink beyond the text's that may be letters.
    pub extra: Vec<Piece>,
}

impl Found {
    /// A line's own coordinates.
    fn along(&self, line: usize) -> Along<'_> {
        Along {
            line: &self.lines[line],
            level: &self.level,
            lean: self.lean,
        }
    }

    fn evidence<'a>(&'a self, expect: &'a Expectation, frame: &Frame) -> Evidence<'a> {
        Evidence {
            ink: &self.ink,
            level: &self.level,
            lines: &self.lines,
            rules: &self.rules,
            words: &self.words,
            glyphs: &self.glyphs,
            formed: &[],
            joins: &[],
            corrections: &self.corrections,
            model: &expect.model,
            lean: self.lean,
            mm: 1.0 / frame.px_per_mm,
            scale_se: frame.scale_se.0,
            text: self.text,
            minutes: expect.minutes,
        }
    }
}

/// What was judged of the letters found.
struct Judged {
    formed: Vec<Formed>,
    joins: Vec<Join>,
}

impl Judged {
    fn of(evidence: &Evidence<'_>) -> Self {
        Self {
            formed: formed::all(evidence),
            joins: joins::joins(evidence),
        }
    }

    fn in_evidence<'a>(&'a self, evidence: Evidence<'a>) -> Evidence<'a> {
        Evidence {
            formed: &self.formed,
            joins: &self.joins,
            ..evidence
        }
    }
}

/// Reads a page: every measure, or why it was not taken. Never fails.
#[tracing::instrument(level = "trace", name = "read", skip_all)]
pub fn read_page(page: &Page, expect: &Expectation, fitness: Fitness) -> Reading {
    let mut found = find(page, expect);
    let frame = printed::scaled_frame(page, expect, (found.pitch, found.agrees));
    let mm = 1.0 / frame.px_per_mm;
    let mut judged = Judged::of(&found.evidence(expect, &frame));
    let mut text = text_fit(&found, &judged, expect, &frame);
    if found.text == Text::Known && text.as_ref().is_some_and(|text| !text.fits) {
        found = find(page, &without_text(expect));
        found.text = Text::Misfit;
        judged = Judged::of(&found.evidence(expect, &frame));
    }
    if let Some(text) = text.as_ref().filter(|text| !text.other_lines.is_empty()) {
        text_fit::doubt(&mut found.glyphs, &mut judged.formed, &text.other_lines);
        judged.joins = joins::joins(&found.evidence(expect, &frame));
    }
    let mut unhelped = amended(&mut found, &mut judged, expect, &frame);
    if expect.amendments.iter().any(Amendment::is_of_sheet) {
        // Lines stand, or stand not, by what a person said: what the engine gives alone is another reading.
        unhelped = Some(read_page(page, &without_amendments(expect), fitness.clone()).measures);
    }
    if let Some(text) = text.as_mut().filter(|text| text.fits) {
        text_fit::count(text, &found.evidence(expect, &frame), &found.lost);
    }
    let evidence = judged.in_evidence(found.evidence(expect, &frame));
    let mut measures = report::in_order(aspects::all(&evidence));
    if let Some(unhelped) = unhelped {
        report::marked(&mut measures, &unhelped);
    }
    let letters = found.glyphs.iter().zip(&judged.formed);
    Reading {
        engine: ENGINE.to_string(),
        fitness,
        ruling: printed::found(page, expect, &found, mm),
        lines: report::lines(&evidence),
        words: found.words.iter().map(|w| report::word(w, mm)).collect(),
        letters: letters
            .map(|(glyph, formed)| report::letter(&evidence, glyph, formed))
            .collect(),
        joins: judged.joins.iter().map(report::join).collect(),
        corrections: found
            .corrections
            .iter()
            .map(|mended| report::correction(mended, mm))
            .collect(),
        text,
        measures,
        frame,
    }
}

fn without_text(expect: &Expectation) -> Expectation {
    Expectation {
        text: None,
        ..expect.clone()
    }
}

fn without_amendments(expect: &Expectation) -> Expectation {
    Expectation {
        amendments: Vec::new(),
        ..expect.clone()
    }
}

/// How the text goes with the ink; `None` where none was told.
fn text_fit(
    found: &Found,
    judged: &Judged,
    expect: &Expectation,
    frame: &Frame,
) -> Option<TextFit> {
    let letters = expect.text.as_deref().map_or(0, text::letters);
    if letters == 0 {
        return None;
    }
    let mm = 1.0 / frame.px_per_mm;
    let extra = found.extra.iter();
    let extra: Vec<BoxMm> = extra.map(|p| report::box_mm(p.bounds(), mm)).collect();
    let evidence = found.evidence(expect, frame);
    Some(text_fit::fit(
        &evidence,
        &judged.formed,
        letters,
        &found.lost,
        extra,
    ))
}

/// Lays what a person has put right over what was found; gives the measures as they were before, or
/// `None` where nothing was put right.
fn amended(
    found: &mut Found,
    judged: &mut Judged,
    expect: &Expectation,
    frame: &Frame,
) -> Option<Vec<units::Measure>> {
    let amendments: &[Amendment] = &expect.amendments;
    if amendments.is_empty() {
        return None;
    }
    let mm = 1.0 / frame.px_per_mm;
    let before = judged.in_evidence(found.evidence(expect, frame));
    let before = report::in_order(aspects::all(&before));
    let places = match found.text {
        Text::Known => amend::letters(found, amendments, mm),
        _ => amend::letters(found, &[], mm),
    };
    amend::corrections(found, amendments, mm);
    let evidence = found.evidence(expect, frame);
    *judged = Judged::of(&evidence);
    let (formed, joins) = (&mut judged.formed, &mut judged.joins);
    amend::verdicts(&evidence, formed, joins, (&places, amendments));
    Some(before)
}

/// Runs every stage up to letters.
pub(crate) fn find(page: &Page, expect: &Expectation) -> Found {
    let px_per_mm = page.frame.px_per_mm;
    let evened = ink::even(&page.grey, px_per_mm);
    let rulings = ruling::find(&evened, px_per_mm, printed::print(expect, px_per_mm));
    let (pitch, agrees) = printed::pitch_of(&rulings, expect, px_per_mm);
    let level = Level::new(&rulings.across);
    let ink = ink::find(&evened, &rulings, px_per_mm);
    let mm = 1.0 / printed::scaled_frame(page, expect, (pitch, agrees)).px_per_mm;
    let pieces = pieces::writing(&ink, px_per_mm);
    let pieces = sheet::writing(pieces, &expect.amendments, mm);
    let written = match (agrees, expect.ruling.line_pitch(), pitch) {
        (true, Some(wanted), Some(p)) => Some(p.px * wanted.0 / printed::repeat(expect)),
        _ => None,
    };
    let told = sheet::lines(&pieces, &expect.amendments, mm);
    let lines = lines::find(
        pieces.clone(),
        &level,
        page.grey.dimensions(),
        px_per_mm,
        written,
        &told,
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
        text: Text::Unknown,
        lost: Vec::new(),
        extra: Vec::new(),
    };
    writing::read(&mut found, expect);
    // Where the lines stand is known once their letters are.
    found.rules = printed::rules_under(&found.lines, &found.rulings, written);
    found
}
