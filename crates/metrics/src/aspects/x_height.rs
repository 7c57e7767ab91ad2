//! Short letters of one height.

use units::{BoxMm, LetterClass, MeasureName, Outcome, WhyNot};

use super::{Evidence, Named, from_centre, measured, missing, plain, without_strays};
use crate::letters::Glyph;
use crate::maths::{hypot, square};
use crate::stats;

/// Fewer letters say nothing about a page.
const LEAST: usize = 6;

/// Height of a short letter in millimetres; `None` for another.
fn height(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let (top, bottom) = evidence.rows(glyph);
    (glyph.class == LetterClass::Short).then_some((bottom - top) * evidence.mm)
}

/// Heights of all short letters, strays left out.
pub(crate) fn heights(evidence: &Evidence<'_>) -> Vec<(f64, BoxMm)> {
    let all = evidence
        .sure()
        .filter_map(|g| Some((height(evidence, g)?, evidence.place(g))))
        .collect();
    without_strays(all, 0.05)
}

/// Mean height of short letters in millimetres, where there are enough.
pub(crate) fn mean_height(evidence: &Evidence<'_>) -> Option<f64> {
    let heights = plain(&heights(evidence));
    (heights.len() >= LEAST)
        .then(|| stats::mean(&heights))
        .flatten()
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let all = heights(evidence);
    let values = plain(&all);
    let n = values.len();
    let (mean, spread) = match (stats::mean(&values), stats::deviation(&values)) {
        (Some(mean), Some(spread)) if n >= LEAST && mean > 0.0 => (mean, spread),
        _ => {
            let why = || missing(WhyNot::TooFewLetters);
            return vec![
                (MeasureName::XHeight, why()),
                (MeasureName::XHeightCv, why()),
                (MeasureName::Growth, why()),
            ];
        }
    };
    let se = evidence.length_se(mean, spread, n);
    let edge = super::EDGE_PX * evidence.mm;
    let own = (spread * spread - edge * edge).max(0.0).sqrt();
    let cv = own / mean;
    // What edges add to the spread is known only roughly, and letters cut wrong add to it.
    let cut = if evidence.joined() { 0.7 } else { 0.0 };
    let uneven = hypot(0.6 * evidence.alike_px(), cut) * evidence.mm / mean;
    let mistaken = cv * evidence.mistaken(2 * n);
    let cv_se = (square(0.06 * cv) + square(mistaken) + square(uneven) + square(0.003)).sqrt();
    vec![
        (
            MeasureName::XHeight,
            measured(mean, se, Some(spread), n, from_centre(&all, mean)),
        ),
        (
            MeasureName::XHeightCv,
            measured(cv, cv_se, None, n, from_centre(&all, mean)),
        ),
        (MeasureName::Growth, growth(evidence, mean)),
    ]
}

fn growth(evidence: &Evidence<'_>, mean: f64) -> Outcome {
    let mut rates: Vec<(f64, BoxMm)> = Vec::new();
    let (mut spans, mut letters) = (Vec::new(), 0);
    for line in 0..evidence.lines.len() {
        let points: Vec<(f64, f64, BoxMm)> = evidence
            .sure()
            .filter(|g| g.line == line)
            .filter_map(|g| {
                let h = height(evidence, g)?;
                let near = (h / mean - 1.0).abs() < 0.35;
                let x = (g.edges.left + g.edges.right) / 2.0 * evidence.mm;
                near.then(|| (x, h, evidence.place(g)))
            })
            .collect();
        let span = points.iter().map(|p| p.0).fold(f64::MIN, f64::max)
            - points.iter().map(|p| p.0).fold(f64::MAX, f64::min);
        let pairs: Vec<(f64, f64)> = points.iter().map(|p| (p.0, p.1)).collect();
        if points.len() >= 8
            && span > 40.0
            && let Some((slope, _)) = stats::least_squares(&pairs)
        {
            let own: Vec<f64> = pairs.iter().map(|p| p.1).collect();
            let here = stats::mean(&own).unwrap_or(mean);
            rates.push((slope / here * 1e4, points[points.len() - 1].2));
            spans.push(span);
            letters += points.len();
        }
    }
    let values = plain(&rates);
    let Some(value) = stats::mean(&values) else {
        return missing(WhyNot::LinesTooShort);
    };
    let spread = stats::deviation(&values);
    let edge = super::EDGE_PX * evidence.mm / mean;
    let span = stats::mean(&spans).unwrap_or(100.0);
    let own = edge / (span * 0.29) * 1e4 / (letters as f64).sqrt();
    let between = 0.35 * spread.unwrap_or(0.0) / (values.len() as f64).sqrt();
    let se = (own * own + between * between + square(1.2)).sqrt();
    measured(value, se, spread, values.len(), rates)
}
