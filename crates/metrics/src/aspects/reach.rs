//! The reach of tall letters and of tails.

use units::{BoxMm, FaultKind, LetterClass, MeasureName, Outcome, WhyNot};

use super::{
    Evidence, Named, from_centre, measured, missing, plain, share, without_strays, x_height,
};
use crate::letters::Glyph;
use crate::letters::formed::Formed;
use crate::maths::square;
use crate::stats;

/// Fewer letters say nothing about a page.
const LEAST: usize = 3;

/// Letters that stand on flat feet: they, and not round ones, show where the baseline is.
const FLAT: &str = "hikmnrx";

/// Tall letters whose reach is compared; t and f end lower or higher in many letter models.
const COMPARED: &str = "bdhkl";

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let unit = x_height::mean_height(evidence);
    let of = |reach: fn(&Evidence<'_>, &Glyph) -> Option<f64>, shift: f64, pixels: f64| {
        let all: Vec<(f64, BoxMm)> = evidence
            .sure()
            .filter_map(|g| Some((reach(evidence, g)? - shift, evidence.place(g))))
            .collect();
        outcome(evidence, all, unit, pixels)
    };
    vec![
        (MeasureName::AscenderRatio, of(above, 0.0, 0.4)),
        (
            MeasureName::DescenderRatio,
            of(below, flat_feet(evidence), 0.8),
        ),
        (MeasureName::TallClear, tall_clear(evidence)),
    ]
}

/// Share of tall letters that clear the short ones.
fn tall_clear(evidence: &Evidence<'_>) -> Outcome {
    /// Heights are read so well that hardly a letter is taken for the other kind.
    const MISTAKEN: f64 = 0.02;
    let letters = evidence.glyphs.iter().zip(evidence.formed);
    let is_tall = |g: &Glyph| {
        let form = g.ch.and_then(|c| evidence.model.form(c));
        form.is_some_and(|form| form.class == LetterClass::Tall)
    };
    let tall = letters.filter(|(g, formed)| formed.judged && is_tall(g));
    let clear = |formed: &Formed| !formed.faults.iter().any(|f| f.kind == FaultKind::NotTall);
    let all: Vec<(bool, BoxMm)> = tall
        .map(|(glyph, formed)| (clear(formed), evidence.place(glyph)))
        .collect();
    match evidence.why_no_letters() {
        Some(because) => missing(because),
        None if all.len() < LEAST => missing(WhyNot::TooFewLetters),
        None => share(evidence, &all, (MISTAKEN, MISTAKEN, 0.5)),
    }
}

fn above(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let counts = glyph.class == LetterClass::Tall && glyph.ch.is_none_or(|c| COMPARED.contains(c));
    let (top, bottom) = evidence.rows(glyph);
    // A tall letter stands on its own foot, not on the line's mean.
    counts.then_some((bottom - top) * evidence.mm)
}

fn below(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let counts = glyph.class == LetterClass::Tail;
    counts.then_some(under_line(evidence, glyph) * evidence.mm)
}

/// How far a letter reaches below its line, in pixels.
fn under_line(evidence: &Evidence<'_>, glyph: &Glyph) -> f64 {
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
    evidence.rows(glyph).1 - evidence.lines[glyph.line].base_at(x)
}

/// How far flat feet stand below the middle of all feet, in millimetres (round ones hang lower, so
/// mostly above it: negative); 0 where the text does not tell them.
fn flat_feet(evidence: &Evidence<'_>) -> f64 {
    let flat = |g: &&Glyph| g.ch.is_some_and(|c| FLAT.contains(c));
    let feet: Vec<f64> = evidence
        .sure()
        .filter(flat)
        .map(|g| under_line(evidence, g))
        .collect();
    stats::median(&feet)
        .filter(|_| feet.len() >= LEAST)
        .unwrap_or(0.0)
        * evidence.mm
}

/// `pixels`: what is not known of an end's place, beyond blur.
fn outcome(
    evidence: &Evidence<'_>,
    all: Vec<(f64, BoxMm)>,
    unit: Option<f64>,
    pixels: f64,
) -> Outcome {
    let Some(unit) = unit else {
        return missing(WhyNot::TooFewLetters);
    };
    let all: Vec<(f64, BoxMm)> = without_strays(all, 0.1)
        .into_iter()
        .map(|(v, b)| (v / unit, b))
        .collect();
    let values = plain(&all);
    let Some(value) = stats::median(&values).filter(|_| values.len() >= LEAST) else {
        return missing(WhyNot::TooFewLetters);
    };
    let spread = stats::deviation(&values).unwrap_or(0.0);
    let n = values.len() as f64;
    let own = 0.2 * spread / n.sqrt() + spread * evidence.mistaken(values.len());
    let cut = if evidence.joined() { 0.8 } else { 0.0 };
    // The median of few letters jumps from one to the next; edges of ends and of the short letters
    // are read with the same doubt.
    let edge = (square(pixels) + square(cut) + square(1.2 * evidence.alike_px())).sqrt()
        * evidence.mm
        / unit;
    let se = (own * own + edge * edge + square(0.006 * value)).sqrt();
    measured(
        value,
        se,
        Some(spread),
        values.len(),
        from_centre(&all, value),
    )
}
