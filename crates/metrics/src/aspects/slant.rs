//! The lean of downstrokes.

use units::{BoxMm, LetterClass, MeasureName, WhyNot};

use super::{Evidence, Named, from_centre, measured, missing, plain, without_strays};
use crate::letters::Glyph;
use crate::stats;

/// Fewer stems say nothing about a page.
const LEAST: usize = 3;
/// Letters with one straight stem that stands clear of the short zone.
const STEMS: &str = "bdhlp";
/// A stem must stand clear of the short zone by this many x-heights to have a lean.
const CLEAR: f64 = 0.22;

/// A stem as read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stem {
    /// Degrees from upright, + forward.
    pub lean: f64,
    /// How much the outer half leans more than the inner one.
    bend: f64,
    /// Whether it is a loop of two strokes.
    loops: bool,
}

/// Reads a letter's stem; `None` for a letter without one.
///
/// The middle of the stem's ink is followed from row to row beyond the short zone, where bowls and
/// arches do not reach, and a straight line is fitted to it.
pub(crate) fn stem(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<Stem> {
    let (from, to) = rows(evidence, glyph)?;
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
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
    if points.len() < 6 {
        return None;
    }
    // Without the text a crossbar or a hook would be taken for a stem.
    let loops = stats::quantile(&widths, 0.8)? > 2.0 * evidence.ink.pen + 2.0;
    if glyph.ch.is_none() && loops {
        return None;
    }
    let degrees = |points: &[(f64, f64)]| {
        stats::least_squares(points).map(|(slope, _)| (-slope).atan().to_degrees())
    };
    let half = points.len() / 2;
    Some(Stem {
        lean: degrees(&points)?,
        bend: degrees(&points[..half])? - degrees(&points[half..])?,
        loops,
    })
}

/// The level rows between which a letter's stem stands clear of the short zone.
fn rows(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<(f64, f64)> {
    let stemmed = match glyph.ch {
        Some(c) => STEMS.contains(c),
        None => glyph.class == LetterClass::Tall,
    };
    let line = &evidence.lines[glyph.line];
    let unit = line.x_height;
    let base = line.base_at((glyph.edges.left + glyph.edges.right) / 2.0);
    let (top, bottom) = evidence.rows(glyph);
    let (from, to) = if glyph.ch == Some('p') {
        (base + 0.1 * unit, base + 0.75 * (bottom - base))
    } else {
        let zone = bottom.min(base + 0.2 * unit) - unit;
        (zone + 0.85 * (top - zone), zone - 0.1 * unit)
    };
    (stemmed && to - from >= CLEAR * unit).then_some((from, to))
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let stems: Vec<(Stem, BoxMm)> = evidence
        .sure()
        .filter_map(|g| Some((stem(evidence, g)?, evidence.place(g))))
        .collect();
    let all = without_strays(stems.iter().map(|(s, b)| (s.lean, *b)).collect(), 1.5);
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
    // Where stems are bowed or looped, the lean depends on how much of them is read.
    let bends: Vec<f64> = stems.iter().map(|(s, _)| s.bend).collect();
    let bowed = 0.12 * stats::median(&bends).unwrap_or(0.0).abs();
    let looped = 1.5 * stems.iter().filter(|(s, _)| s.loops).count() as f64 / stems.len() as f64;
    let unsure = 0.3f64.powi(2) + bowed * bowed + looped * looped;
    let se = (0.25 * spread * spread / n + unsure).sqrt();
    let sd_se = ((0.25 * spread).powi(2) + spread * spread / (4.0 * n) + unsure).sqrt();
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
