//! The lean of downstrokes.

use units::{BoxMm, LetterClass, MeasureName, WhyNot};

use super::{Evidence, Named, from_centre, measured, missing, plain, without_strays};
use crate::letters::Glyph;
use crate::stats;

/// Fewer stems say nothing about a page.
const LEAST: usize = 4;
/// Letters with one straight stem that stands clear of the short zone.
const STEMS: &str = "bdhlp";
/// A stem must stand clear of the short zone by this many x-heights to have a lean.
const CLEAR: f64 = 0.25;

/// Lean of a letter's stem in degrees, + forward; `None` for a letter without one.
///
/// The middle of the stem's ink is followed from row to row beyond the short zone, where bowls and
/// arches do not reach, and a straight line is fitted to it.
pub(crate) fn lean(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let stemmed = match glyph.ch {
        Some(c) => STEMS.contains(c),
        None => glyph.class == LetterClass::Tall,
    };
    if !stemmed {
        return None;
    }
    let line = &evidence.lines[glyph.line];
    let unit = line.x_height;
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
    let base = line.base_at(x);
    let (top, bottom) = evidence.rows(glyph);
    let (from, to) = if glyph.ch == Some('p') {
        (base + 0.1 * unit, base + 0.75 * (bottom - base))
    } else {
        let zone = bottom.min(base + 0.2 * unit) - unit;
        (zone + 0.85 * (top - zone), zone - 0.1 * unit)
    };
    if to - from < CLEAR * unit {
        return None;
    }
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut widths: Vec<f64> = Vec::new();
    for row in glyph.piece.runs.chunk_by(|a, b| a.y == b.y) {
        let (left, right) = (f64::from(row[0].x0), f64::from(row[row.len() - 1].x1));
        let y = evidence.level.row(x, f64::from(row[0].y) + 0.5);
        if (from..=to).contains(&y) {
            points.push((y, (left + right) / 2.0));
            widths.push(right - left);
        }
    }
    // Without the text a crossbar or a hook would be taken for a stem.
    let wide = stats::quantile(&widths, 0.8)? > 2.0 * evidence.ink.pen + 2.0;
    if points.len() < 6 || (glyph.ch.is_none() && wide) {
        return None;
    }
    let (slope, _) = stats::least_squares(&points)?;
    Some((-slope).atan().to_degrees())
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let all: Vec<(f64, BoxMm)> = evidence
        .sure()
        .filter_map(|g| Some((lean(evidence, g)?, evidence.place(g))))
        .collect();
    let all = without_strays(all, 1.5);
    let values = plain(&all);
    let n = values.len() as f64;
    let (mean, spread) = match (stats::mean(&values), stats::deviation(&values)) {
        (Some(mean), Some(spread)) if values.len() >= LEAST => (mean, spread),
        _ => {
            return vec![
                (MeasureName::Slant, missing(WhyNot::TooFewLetters)),
                (MeasureName::SlantSd, missing(WhyNot::TooFewLetters)),
            ];
        }
    };
    let se = (0.16 * spread * spread / n + 0.3f64.powi(2)).sqrt();
    let sd_se = ((0.2 * spread).powi(2) + 0.25f64.powi(2)).sqrt();
    let places = from_centre(&all, mean);
    vec![
        (
            MeasureName::Slant,
            measured(mean, se, Some(spread), values.len(), places.clone()),
        ),
        (
            MeasureName::SlantSd,
            measured(spread, sd_se, None, values.len(), places),
        ),
    ]
}
