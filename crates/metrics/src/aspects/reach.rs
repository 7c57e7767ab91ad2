//! The reach of tall letters and of tails.

use units::{BoxMm, LetterClass, MeasureName, Outcome, WhyNot};

use super::{Evidence, Named, from_centre, measured, missing, plain, without_strays, x_height};
use crate::letters::Glyph;
use crate::maths::square;
use crate::stats;

/// Fewer letters say nothing about a page.
const LEAST: usize = 3;

/// Tall letters whose reach is compared; t and f end lower or higher in many letter models.
const COMPARED: &str = "bdhkl";

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let unit = x_height::mean_height(evidence);
    let of = |reach: fn(&Evidence<'_>, &Glyph) -> Option<f64>| {
        let all: Vec<(f64, BoxMm)> = evidence
            .sure()
            .filter_map(|g| Some((reach(evidence, g)?, evidence.place(g))))
            .collect();
        outcome(evidence, all, unit)
    };
    vec![
        (MeasureName::AscenderRatio, of(above)),
        (MeasureName::DescenderRatio, of(below)),
    ]
}

fn above(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let counts = glyph.class == LetterClass::Tall && glyph.ch.is_none_or(|c| COMPARED.contains(c));
    let (top, bottom) = evidence.rows(glyph);
    // A tall letter stands on its own foot, not on the line's mean.
    counts.then_some((bottom - top) * evidence.mm)
}

fn below(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let counts = glyph.class == LetterClass::Tail;
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
    let base = evidence.lines[glyph.line].base_at(x);
    counts.then_some((evidence.rows(glyph).1 - base) * evidence.mm)
}

fn outcome(evidence: &Evidence<'_>, all: Vec<(f64, BoxMm)>, unit: Option<f64>) -> Outcome {
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
    let own = 0.4 * spread / n.sqrt();
    let edge = super::EDGE_PX * evidence.mm / unit;
    let se = (own * own + edge * edge / n + square(0.012 * value) + square(0.018)).sqrt();
    measured(
        value,
        se,
        Some(spread),
        values.len(),
        from_centre(&all, value),
    )
}
