//! Letters, words and lines → measures: one file an aspect, each a pure function.

use units::{BoxMm, LetterClass, LetterModel, MeasureName, Mm, Outcome, WhyNot};

use crate::ink::Ink;
use crate::letters::formed::Formed;
use crate::letters::joins::Join;
use crate::letters::{Glyph, WordInk};
use crate::lines::TextLine;
use crate::maths::{hypot, square};
use crate::pieces::BoxPx;
use crate::ruling::Level;
use crate::stats;
use crate::words::Along;

pub(crate) mod baseline;
pub(crate) mod corrections;
pub(crate) mod form;
pub(crate) mod gaps;
pub(crate) mod joins;
pub(crate) mod pace;
pub(crate) mod reach;
pub(crate) mod slant;
pub(crate) mod x_height;

/// What is known of the text of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Text {
    /// It is known, and goes with the ink.
    Known,
    /// It is not known.
    Unknown,
    /// What was told is another text than is written here.
    Misfit,
}

/// All that the aspects are read from.
#[derive(Clone, Copy)]
pub(crate) struct Evidence<'a> {
    pub ink: &'a Ink,
    pub level: &'a Level,
    pub lines: &'a [TextLine],
    /// Level row of the printed line that each line of writing stands on.
    pub rules: &'a [Option<f64>],
    pub words: &'a [WordInk],
    pub glyphs: &'a [Glyph],
    /// How each glyph is formed; empty until that was judged.
    pub formed: &'a [Formed],
    pub joins: &'a [Join],
    pub corrections: &'a [Mended],
    /// The letters that are taught.
    pub model: &'a LetterModel,
    /// Columns to the right for each row up, of the usual downstroke.
    pub lean: f64,
    /// Millimetres for each pixel.
    pub mm: f64,
    /// Relative standard error of that.
    pub scale_se: f64,
    pub text: Text,
    /// Minutes that the writing took, where an adult timed it.
    pub minutes: Option<u16>,
}

/// A mistake that was put right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Mended {
    pub kind: units::CorrectionKind,
    pub bounds: BoxPx,
    /// Whether a person said so.
    pub by_hand: bool,
}

/// A letter counts where the engine is at least this sure of it.
pub(crate) const SURE: f64 = units::Letter::SURE.0;
/// Standard error of one edge of a letter, in pixels.
const EDGE_PX: f64 = 0.25;
/// Share of letters that may be taken for another, at worst, without being noticed.
const MISTAKEN: f64 = 0.3;

/// One measure by name.
pub(crate) type Named = (MeasureName, Outcome);

impl Evidence<'_> {
    /// Letters that the engine is sure of.
    pub(crate) fn sure(&self) -> impl Iterator<Item = &Glyph> {
        self.glyphs.iter().filter(|g| g.confidence >= SURE)
    }

    /// Why nothing may be said of single letters; `None` where it may.
    pub(crate) fn why_no_letters(&self) -> Option<WhyNot> {
        match self.text {
            Text::Known => None,
            Text::Unknown => Some(WhyNot::NeedsText),
            Text::Misfit => Some(WhyNot::TextDoesNotFit),
        }
    }

    /// A line's own coordinates.
    pub(crate) fn along(&self, line: usize) -> Along<'_> {
        Along {
            line: &self.lines[line],
            level: self.level,
            lean: self.lean,
        }
    }

    /// Whether many letters hang together with the next.
    pub(crate) fn joined(&self) -> bool {
        let touching = self.glyphs.iter().filter(|g| g.touches_next).count();
        touching * 4 > self.glyphs.len()
    }

    /// Level rows of a letter's top and bottom.
    pub(crate) fn rows(&self, glyph: &Glyph) -> (f64, f64) {
        let (top, bottom) = (glyph.edges.top, glyph.edges.bottom);
        (
            self.level.row(top.0, top.1),
            self.level.row(bottom.0, bottom.1),
        )
    }

    /// A letter's ink box.
    pub(crate) fn place(&self, glyph: &Glyph) -> BoxMm {
        let e = &glyph.edges;
        BoxMm {
            x0: Mm(e.left * self.mm),
            y0: Mm(e.top.1 * self.mm),
            x1: Mm(e.right * self.mm),
            y1: Mm(e.bottom.1 * self.mm),
        }
    }

    /// Standard error of a mean of lengths, in millimetres: what the edges and mistaken letters
    /// leave, and the scale.
    pub(crate) fn length_se(&self, value: f64, spread: f64, n: usize) -> f64 {
        let edge = EDGE_PX * self.mm * core::f64::consts::SQRT_2;
        let mistaken = spread * self.mistaken(n);
        let alike = self.alike_px() * self.mm;
        let n = n.max(1) as f64;
        (edge * edge / n + square(mistaken) + square(alike) + square(self.scale_se * value)).sqrt()
    }

    /// Standard error of a mean of `n` letters that differ by 1, from letters taken for others and from
    /// those left out: the others are the very letters that were written, not a sample.
    pub(crate) fn mistaken(&self, n: usize) -> f64 {
        const LEFT_OUT: f64 = 0.45;
        let sure = self.sure().count() as f64;
        let missed = 1.0 - sure / (self.glyphs.len() as f64).max(1.0);
        MISTAKEN / (n.max(1) as f64).sqrt() + LEFT_OUT * missed
    }

    /// What is not known of the distance of two opposite edges and is the same for every letter, in
    /// pixels: how far blur has moved them, and where joined letters were cut.
    pub(crate) fn alike_px(&self) -> f64 {
        // Up to this blur the half-way grey is the edge.
        const SHARP: f64 = 0.85;
        let blurred = 0.13 + 0.8 * (self.ink.blur - SHARP).max(0.0);
        let cut = if self.joined() { 0.4 } else { 0.0 };
        hypot(blurred, cut)
    }
}

/// A measured outcome; places with the largest deviation from `value` come first.
pub(crate) fn measured(
    value: f64,
    se: f64,
    spread: Option<f64>,
    n: usize,
    mut places: Vec<(f64, BoxMm)>,
) -> Outcome {
    const MOST_PLACES: usize = 400;
    places.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    places.truncate(MOST_PLACES);
    Outcome::Measured {
        value,
        se,
        spread,
        n: n as u32,
        places: places.into_iter().map(|p| p.1).collect(),
    }
}

/// The share of what was judged that is sound; `unfounded` and `missed` are the usual shares of sound
/// ones that are taken for faulty, and of faulty ones taken for sound. Where letters were not found, those
/// that were are cut in the wrong place so much more often: `ill_cut`. What is faulty comes first.
pub(crate) fn share(
    evidence: &Evidence<'_>,
    judged: &[(bool, BoxMm)],
    (unfounded, missed, ill_cut): (f64, f64, f64),
) -> Outcome {
    let n = judged.len() as f64;
    let faulty = judged.iter().filter(|(sound, _)| !sound).count() as f64;
    let value = (n - faulty) / n.max(1.0);
    // Mistakes of both kinds fall by chance on single letters, and differ from hand to hand.
    let chance = (n - faulty) * unfounded + faulty * missed;
    let lost = 1.0 - evidence.sure().count() as f64 / (evidence.glyphs.len() as f64).max(1.0);
    let alike = unfounded * (n - faulty) + 0.5 * missed * faulty + ill_cut * lost * n;
    let se = (chance + square(alike)).sqrt().max(0.5) / n.max(1.0);
    let places = judged.iter().filter(|(sound, _)| !sound);
    let places = places.map(|(_, place)| (1.0, *place)).collect();
    measured(value, se, None, judged.len(), places)
}

/// A measure that was not taken.
pub(crate) fn missing(because: WhyNot) -> Outcome {
    Outcome::NotMeasured { because }
}

/// Values with their places, those far from the median left out.
pub(crate) fn without_strays(values: Vec<(f64, BoxMm)>, floor: f64) -> Vec<(f64, BoxMm)> {
    let plain: Vec<f64> = values.iter().map(|v| v.0).collect();
    let near = stats::near_median(&plain, 4.0, floor);
    values
        .into_iter()
        .zip(near)
        .filter_map(|(v, keep)| keep.then_some(v))
        .collect()
}

/// Only the numbers.
pub(crate) fn plain(values: &[(f64, BoxMm)]) -> Vec<f64> {
    values.iter().map(|v| v.0).collect()
}

/// Values turned into their distance from a centre, for ordering places.
pub(crate) fn from_centre(values: &[(f64, BoxMm)], centre: f64) -> Vec<(f64, BoxMm)> {
    values.iter().map(|(v, b)| (v - centre, *b)).collect()
}

/// Whether a letter stands on the baseline.
pub(crate) fn stands(glyph: &Glyph) -> bool {
    matches!(glyph.class, LetterClass::Short | LetterClass::Tall) && glyph.ch != Some('f')
}

/// Every measure that the evidence allows, in the order of the aspects.
#[tracing::instrument(level = "trace", name = "aspects", skip_all)]
pub(crate) fn all(evidence: &Evidence<'_>) -> Vec<Named> {
    let mut out = baseline::measure(evidence);
    out.extend(x_height::measure(evidence));
    out.extend(reach::measure(evidence));
    out.extend(form::measure(evidence));
    out.extend(joins::measure(evidence));
    out.extend(gaps::measure(evidence));
    out.extend(slant::measure(evidence));
    out.extend(corrections::measure(evidence));
    out.extend(pace::measure(evidence));
    out
}
