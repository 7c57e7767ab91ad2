//! Where a letter's body ends above: of a tall letter with a bowl or an arch the top of that, of every
//! other its ink.

use crate::aspects::Evidence;
use crate::letters::Glyph;

/// Tall letters with a body beside their stem.
const STEMMED: &str = "bdhk";
/// Tall letters that are all stem.
const BODILESS: &str = "flt";
/// Above this height, in x-heights, a tall letter is stem alone.
const STEM: f64 = 1.25;

/// Height of the body's top above the baseline, in pixels; `None` where there is none, or it cannot be
/// told from the stem.
pub(crate) fn top(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    match glyph.ch? {
        c if BODILESS.contains(c) => None,
        c if STEMMED.contains(c) => beside_stem(evidence, glyph),
        _ => Some(glyph.reach.high),
    }
}

/// The highest ink that is not the stem's, in the line's own coordinates, where stems are upright.
fn beside_stem(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let along = evidence.along(glyph.line);
    let unit = along.line.x_height;
    let runs = glyph.piece.runs.iter().map(|run| {
        let middle = f64::from(run.x0 + run.x1) / 2.0;
        let height = along.height(middle, f64::from(run.y) + 0.5);
        let shift = along.lean * height;
        (height, f64::from(run.x0) - shift, f64::from(run.x1) - shift)
    });
    let above = runs.clone().filter(|run| run.0 > STEM * unit);
    let (left, right) = above.fold((f64::MAX, f64::MIN), |(left, right), run| {
        (left.min(run.1), right.max(run.2))
    });
    // A loop has no stem that its body could be told from.
    let pen = evidence.ink.pen;
    if right - left > 2.0 * pen + 2.0 || left >= right {
        return None;
    }
    let beside = |run: &(f64, f64, f64)| run.1 < left - 0.7 * pen || run.2 > right + 0.7 * pen;
    runs.filter(|run| run.0 <= STEM * unit && beside(run))
        .map(|run| run.0 + 0.5)
        .reduce(f64::max)
}
