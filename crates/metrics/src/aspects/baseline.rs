//! Whether the writing stands on the line.

use units::{BoxMm, MeasureName, Outcome, WhyNot};

use super::{Evidence, Named, measured, missing, stands};
use crate::maths::{atan, hypot, square};
use crate::stats;

/// A letter stands on the rule where its foot is no further from it than this share of the
/// x-height. Our own figure.
const TOLERANCE: f64 = 0.15;
/// A line says something about drift where it has this many letters …
const LEAST_LETTERS: usize = 5;
/// … over this width in millimetres.
const LEAST_WIDTH: f64 = 20.0;

/// How the feet of one line's letters lie.
pub(crate) struct Fit {
    pub line: usize,
    /// Rows down for each column.
    pub slope: f64,
    /// Level row at column 0.
    pub rest: f64,
    /// Column, level row and place of every foot.
    pub feet: Vec<(f64, f64, BoxMm)>,
}

/// Fits every line that is long enough.
pub(crate) fn fits(evidence: &Evidence<'_>) -> Vec<Fit> {
    (0..evidence.lines.len())
        .filter_map(|line| fit(evidence, line))
        .collect()
}

fn fit(evidence: &Evidence<'_>, line: usize) -> Option<Fit> {
    let x_height = evidence.lines[line].x_height;
    let mut feet: Vec<(f64, f64, BoxMm)> = evidence
        .sure()
        .filter(|g| g.line == line && stands(g))
        .map(|g| {
            let x = (g.edges.left + g.edges.right) / 2.0;
            (x, evidence.rows(g).1, evidence.place(g))
        })
        .collect();
    let points = |feet: &[(f64, f64, BoxMm)]| -> Vec<(f64, f64)> {
        feet.iter().map(|f| (f.0, f.1)).collect()
    };
    let (slope, rest) = stats::theil_sen(&points(&feet))?;
    let off: Vec<f64> = feet.iter().map(|f| f.1 - slope * f.0 - rest).collect();
    let near = stats::near_median(&off, 4.5, 0.03 * x_height);
    let mut keep = near.iter();
    feet.retain(|_| keep.next().copied().unwrap_or(false));
    let (slope, rest) = stats::theil_sen(&points(&feet))?;
    let first = feet.iter().map(|f| f.0).fold(f64::MAX, f64::min);
    let last = feet.iter().map(|f| f.0).fold(f64::MIN, f64::max);
    (feet.len() >= LEAST_LETTERS && (last - first) * evidence.mm > LEAST_WIDTH).then_some(Fit {
        line,
        slope,
        rest,
        feet,
    })
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let fits = fits(evidence);
    let (drift, wander) = if fits.is_empty() {
        let why = if evidence.sure().filter(|g| stands(g)).count() < LEAST_LETTERS {
            WhyNot::TooFewLetters
        } else {
            WhyNot::LinesTooShort
        };
        (missing(why), missing(why))
    } else {
        (drift(evidence, &fits), wander(evidence, &fits))
    };
    let (offset, on_line) = against_rules(evidence, &fits);
    vec![
        (MeasureName::Drift, drift),
        (MeasureName::Wander, wander),
        (MeasureName::Offset, offset),
        (MeasureName::OnLine, on_line),
    ]
}

fn line_place(fit: &Fit) -> BoxMm {
    let mut all = fit.feet[0].2;
    for (_, _, b) in &fit.feet {
        all.x0.0 = all.x0.0.min(b.x0.0);
        all.y0.0 = all.y0.0.min(b.y0.0);
        all.x1.0 = all.x1.0.max(b.x1.0);
        all.y1.0 = all.y1.0.max(b.y1.0);
    }
    all
}

fn drift(evidence: &Evidence<'_>, fits: &[Fit]) -> Outcome {
    let slopes: Vec<f64> = fits.iter().map(|f| -atan(f.slope).to_degrees()).collect();
    let Some(value) = stats::median(&slopes) else {
        return missing(WhyNot::LinesTooShort);
    };
    let places = fits
        .iter()
        .zip(&slopes)
        .map(|(f, s)| (*s, line_place(f)))
        .collect();
    // Without printed lines the sheet's own edge is the reference, and that is less sure.
    let reference = if evidence.rules.iter().any(Option::is_some) {
        0.03
    } else {
        0.06
    };
    let spread = stats::deviation(&slopes);
    let n = slopes.len() as f64;
    // The letters are those that were written, not a sample: only a foot read wrong or left out moves
    // a line's slope, the more the fewer there are; the median of few lines jumps when one moves.
    let each: Vec<f64> = fits.iter().map(slope_se).collect();
    let own =
        1.25 * hypot(
            0.8 * stats::mean(&each).unwrap_or(0.2),
            0.2 * spread.unwrap_or(0.2),
        ) / n.sqrt();
    let se = (reference * reference + own * own).sqrt();
    measured(value, se, spread, slopes.len(), places)
}

/// Standard error of a line's slope in degrees.
fn slope_se(fit: &Fit) -> f64 {
    let columns: Vec<f64> = fit.feet.iter().map(|f| f.0).collect();
    let rest: Vec<f64> = fit
        .feet
        .iter()
        .map(|f| f.1 - fit.slope * f.0 - fit.rest)
        .collect();
    let width = stats::deviation(&columns).unwrap_or(1.0).max(1.0);
    let off = stats::deviation(&rest).unwrap_or(1.0);
    atan(off / (width * (columns.len() as f64).sqrt())).to_degrees()
}

fn wander(evidence: &Evidence<'_>, fits: &[Fit]) -> Outcome {
    let rest: Vec<(f64, BoxMm)> = fits
        .iter()
        .flat_map(|f| {
            f.feet
                .iter()
                .map(|(x, y, b)| ((y - f.slope * x - f.rest) * evidence.mm, *b))
        })
        .collect();
    let n = rest.len() as f64;
    let squares: f64 = rest.iter().map(|r| r.0 * r.0).sum::<f64>() / n;
    let edge = super::EDGE_PX * 0.5 * evidence.mm;
    let value = (squares - edge * edge).max(0.0).sqrt();
    let alike = 0.25 * evidence.alike_px() * evidence.mm;
    let mistaken = value * evidence.mistaken(2 * rest.len());
    let se = (square(mistaken) + square(0.03 * value) + square(alike) + square(0.004)).sqrt();
    measured(value, se, None, rest.len(), rest)
}

fn against_rules(evidence: &Evidence<'_>, fits: &[Fit]) -> (Outcome, Outcome) {
    let mut heights = Vec::new();
    let mut shares = Vec::new();
    for fit in fits {
        let Some(rule) = evidence.rules[fit.line] else {
            continue;
        };
        for (_, y, place) in &fit.feet {
            let height = (rule - y) * evidence.mm;
            let share = height / (evidence.lines[fit.line].x_height * evidence.mm);
            heights.push((height, *place));
            shares.push((share, *place));
        }
    }
    let values = super::plain(&heights);
    let Some(value) = stats::median(&values) else {
        return (missing(WhyNot::NoRuling), missing(WhyNot::NoRuling));
    };
    let spread = stats::deviation(&values);
    let n = values.len();
    // Where the middle of a printed line lies is known to about as much as its feet.
    let printed = hypot(0.2 * evidence.mm, 0.02);
    let se = hypot(evidence.length_se(0.0, spread.unwrap_or(0.0), n), printed);
    let offset = measured(value, se, spread, n, super::from_centre(&heights, value));
    let stand = shares.iter().filter(|s| s.0.abs() <= TOLERANCE).count() as f64 / n as f64;
    // Letters whose foot is within an edge's error of the limit may fall on either side.
    let edge = 0.06;
    let close = shares
        .iter()
        .filter(|s| (s.0.abs() - TOLERANCE).abs() < edge / 2.0)
        .count() as f64;
    let se = (0.5 * close / n as f64).max(0.5 / n as f64);
    let off = shares
        .into_iter()
        .filter(|s| s.0.abs() > TOLERANCE)
        .collect();
    (offset, measured(stand, se, None, n, off))
}
