//! The lean of downstrokes.

use units::{BoxMm, LetterClass, MeasureName, WhyNot};

use super::{Evidence, Named, from_centre, measured, missing, plain};
use crate::edges;
use crate::ink::Ink;
use crate::letters::Glyph;
use crate::maths::{atan, square};
use crate::pieces::Piece;
use crate::stats;

/// Fewer stems say nothing about a page.
const LEAST: usize = 3;
/// Letters with one straight stem that stands clear of the short zone.
const STEMS: &str = "bdhlp";
/// Letters that are one stroke down, read where no stems stand clear.
const STROKES: &str = "il";
/// A stroke whose halves differ by less than this, degrees, is straight.
const STRAIGHT: f64 = 6.0;
/// Variance, in squared degrees, of what hooks at their ends make such strokes lean.
const HOOKED: f64 = 1.0;
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
    /// Rows that it was read on.
    length: f64,
}

/// Reads a letter's stem; `None` for a letter without one.
///
/// The middle of the stem's ink is followed from row to row beyond the short zone, where bowls and
/// arches do not reach, and a straight line is fitted to it.
pub(crate) fn stem(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<Stem> {
    follow(evidence, glyph, rows(evidence, glyph)?)
}

/// Reads a letter that is one stroke down, hooks at its ends left out; `None` for any other.
fn stroke(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<Stem> {
    if glyph.touches_next || !glyph.ch.is_some_and(|c| STROKES.contains(c)) {
        return None;
    }
    let (top, bottom) = evidence.rows(glyph);
    let height = bottom - top;
    let read = follow(
        evidence,
        glyph,
        (top + 0.15 * height, bottom - 0.35 * height),
    )?;
    (!read.loops && read.bend.abs() < STRAIGHT).then_some(read)
}

fn follow(evidence: &Evidence<'_>, glyph: &Glyph, (from, to): (f64, f64)) -> Option<Stem> {
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
    let (mut points, mut widths) = (Vec::new(), Vec::new());
    for (y, left, right) in spans(evidence.ink, &glyph.piece) {
        let y = evidence.level.row(x, y);
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
    let half = points.len() / 2;
    Some(Stem {
        // Upright is square to the printed lines, however the sheet lies.
        lean: degrees(&points)? - atan(evidence.level.slope(x, glyph.edges.top.1)).to_degrees(),
        bend: degrees(&points[..half])? - degrees(&points[half..])?,
        loops,
        length: points.len() as f64,
    })
}

/// Every row of a piece: its middle and its outermost columns.
fn spans(ink: &Ink, piece: &Piece) -> Vec<(f64, f64, f64)> {
    let half = edges::half_way(ink, piece);
    piece
        .runs
        .chunk_by(|a, b| a.y == b.y)
        .map(|row| {
            let y = row[0].y;
            let (left, right) = edges::span(ink, half, y, row[0].x0, row[row.len() - 1].x1);
            (f64::from(y) + 0.5, left, right)
        })
        .collect()
}

/// Lean of a single straight stroke, in degrees from upright.
pub(crate) fn lean_of_stroke(ink: &Ink, piece: &Piece) -> Option<f64> {
    let middles: Vec<(f64, f64)> = spans(ink, piece)
        .into_iter()
        .map(|(y, left, right)| (y, (left + right) / 2.0))
        .collect();
    degrees(&middles)
}

/// Lean of a line through (row, column) points, in degrees from upright.
fn degrees(points: &[(f64, f64)]) -> Option<f64> {
    stats::least_squares(points).map(|(slope, _)| atan(-slope).to_degrees())
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

/// Variance of what all stems have in common: where they are bowed or looped, the lean depends on
/// how much of them is read; where they are short, on a pixel more or less.
fn unsure(stems: &[(Stem, BoxMm)]) -> f64 {
    let middle = |pick: fn(&Stem) -> f64| {
        let values: Vec<f64> = stems.iter().map(|(s, _)| pick(s)).collect();
        stats::median(&values).unwrap_or(0.0)
    };
    let bowed = 0.18 * middle(|s| s.bend);
    let short = 9.0 / middle(|s| s.length).max(1.0);
    let loops = stems.iter().filter(|(s, _)| s.loops).count() as f64;
    let looped = 3.0 * loops / stems.len().max(1) as f64;
    0.04 + bowed * bowed + short * short + looped * looped
}

/// Leans with their places. Some hands mix leans, so a straight stem counts however it leans, unless it
/// is far from any; a bent one that leans otherwise is no stem.
fn true_stems(stems: &[(Stem, BoxMm)]) -> Vec<(f64, BoxMm)> {
    let leans: Vec<f64> = stems.iter().map(|(s, _)| s.lean).collect();
    let near = stats::near_median(&leans, 4.0, 1.5);
    let within = stats::near_median(&leans, 4.0, 3.0);
    stems
        .iter()
        .zip(near.into_iter().zip(within))
        .filter(|((s, _), (near, within))| {
            *near || (*within && !s.loops && s.bend.abs() < STRAIGHT)
        })
        .map(|((s, place), _)| (s.lean, *place))
        .collect()
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let read = |how: fn(&Evidence<'_>, &Glyph) -> Option<Stem>| -> Vec<(Stem, BoxMm)> {
        let letters = evidence.sure();
        letters
            .filter_map(|g| Some((how(evidence, g)?, evidence.place(g))))
            .collect()
    };
    let mut stems = read(stem);
    let mut hooked = 0.0;
    if true_stems(&stems).len() < LEAST {
        stems = read(stroke);
        hooked = HOOKED;
    }
    let all = true_stems(&stems);
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
    let unsure = unsure(&stems) + hooked;
    let se = (0.4 * spread * spread / n + unsure).sqrt();
    let sd_se = (square(0.25 * spread) + spread * spread / (4.0 * n) + unsure).sqrt();
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

#[cfg(test)]
mod tests {
    use super::*;
    use image::{GrayImage, Luma};

    #[test]
    fn the_lean_of_a_drawn_bar_is_read_to_a_twentieth_of_a_degree() {
        // The regression of column on row over a stroke's ink, held against the angle it was drawn
        // with; scikit-image 0.26 and SciPy 1.17 give the same figure to 0.01 degrees.
        for lean in [-25.0, -12.5, -3.0, 0.0, 1.0, 7.5, 20.0, 30.0f64] {
            let tan = lean.to_radians().tan();
            let grey = GrayImage::from_fn(200, 130, |x, y| {
                let middle = 100.0 - tan * (f64::from(y) + 0.5 - 65.0);
                let away = (f64::from(x) + 0.5 - middle).abs() * lean.to_radians().cos();
                let covered = (3.5 - away + 0.5).clamp(0.0, 1.0);
                let inside = if (5..125).contains(&y) { covered } else { 0.0 };
                Luma([(230.0 - 150.0 * inside).round() as u8])
            });
            let (ink, piece) = Ink::drawn(grey, 170, (80.0, 7.0, 0.5));
            let found = lean_of_stroke(&ink, &piece).unwrap();
            assert!((found - lean).abs() <= 0.05, "{found} for {lean}");
        }
    }
}
