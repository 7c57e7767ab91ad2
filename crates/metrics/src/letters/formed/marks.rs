//! Dots and bars that are not there.

use super::Of;
use crate::ink::PAPER;
use crate::letters::Glyph;
use crate::letters::dot::dotted;

/// How far above its letter, and to both sides, a dot is looked for, in x-heights.
const ABOVE: f64 = 1.3;
const BESIDE: f64 = 0.6;
/// Less of the ink's darkness than this is paper, dust or a printed line.
const DARK: f64 = 0.35;
/// Ink of a neighbour reaches so many pixels beyond its mask.
const SOFT: u32 = 2;
/// A bar sticks out of its stem by this much at least, both sides together, in x-heights.
const BAR: f64 = 0.1;
/// The bar stands above this height, in x-heights: below, a stem ends in a hook.
const ABOVE_HOOK: f64 = 0.5;

/// The height that a missing dot was looked for in, in x-heights; `None` where there is one.
pub(super) fn no_dot(of: Of<'_>) -> Option<f64> {
    if !dotted(of.ch) || !of.glyph.dots.is_empty() {
        return None;
    }
    let ink = of.evidence.ink;
    let (unit, edges) = (of.x_height, of.glyph.edges);
    let top = edges.top.1 - 0.1 * unit;
    let rows = (top - ABOVE * unit).max(0.0) as u32..top.max(0.0) as u32;
    let left = (edges.left - BESIDE * unit).max(0.0) as u32;
    let right = ((edges.right + BESIDE * unit).max(0.0) as u32).min(ink.grey.width());
    let paper = f64::from(PAPER);
    let faintest = paper - DARK * (paper - ink.level);
    let others: Vec<&Glyph> = of
        .evidence
        .glyphs
        .iter()
        .filter(|other| !core::ptr::eq(*other, of.glyph))
        .filter(|other| {
            let b = other.piece.bounds();
            b.x0 < right + SOFT && b.x1 + SOFT > left && b.y0 < rows.end && b.y1 + SOFT > rows.start
        })
        .collect();
    let taken = |x: u32, y: u32| {
        let mut runs = others.iter().flat_map(|other| &other.piece.runs);
        runs.any(|run| run.y.abs_diff(y) <= SOFT && run.x0 <= x + SOFT && x < run.x1 + SOFT)
    };
    let dark = |(x, y)| f64::from(ink.grey.get_pixel(x, y)[0]) < faintest && !taken(x, y);
    let none = !rows
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .any(dark);
    none.then_some(ABOVE)
}

/// How far the widest ink of a t or f sticks out of its stem, in x-heights, where that is no bar.
pub(super) fn no_bar(of: Of<'_>) -> Option<f64> {
    if !matches!(of.ch, 't' | 'f') {
        return None;
    }
    let runs = of.glyph.piece.runs.iter();
    let upper = runs.filter(|run| of.height(f64::from(run.y) + 0.5) > ABOVE_HOOK);
    let widest = upper.map(|run| run.x1 - run.x0).max()?;
    let out = (f64::from(widest) - of.evidence.ink.pen) / of.x_height;
    (out < BAR).then_some(out.max(0.0))
}
