//! The white between patches of ink, and which of it parts words.

use super::Along;
use crate::ink;
use crate::maths::{exp, ln};
use crate::pieces::Piece;
use crate::stats;

/// The white between two patches of ink: the least on rows of the short letters that both have ink
/// on; between their outermost points where they share none.
pub(crate) fn white(left: &Piece, right: &Piece, along: Along<'_>) -> f64 {
    let x_height = along.line.x_height;
    let inside = |x: u32, y: u32| {
        let h = along.height(f64::from(x), f64::from(y) + 0.5);
        (0.0..x_height).contains(&h)
    };
    let bounds = left.bounds();
    // Where the ink on each row of the left one ends.
    let mut ends = vec![None; bounds.y1.saturating_sub(bounds.y0) as usize];
    for run in &left.runs {
        if inside(run.x1, run.y) {
            let end = &mut ends[(run.y - bounds.y0) as usize];
            *end = (*end).max(Some(run.x1));
        }
    }
    let mut first = u32::MAX;
    let mut least: Option<f64> = None;
    for run in &right.runs {
        first = first.min(run.x0);
        let end = run.y.checked_sub(bounds.y0);
        let end = end.and_then(|row| *ends.get(row as usize)?);
        if let Some(end) = end.filter(|_| inside(run.x0, run.y)) {
            let gap = f64::from(run.x0) - f64::from(end);
            least = Some(least.map_or(gap, |l| l.min(gap)));
        }
    }
    least.unwrap_or(f64::from(first) - f64::from(bounds.x1))
}

/// The gap, in x-heights, above which two blobs belong to different words. `most` is the number of
/// gaps between words where the text gives it.
pub(crate) fn word_gap_limit(gaps: &[f64], most: Option<usize>) -> f64 {
    const USUAL: f64 = 0.55;
    let mut sorted = gaps.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    if let Some(n) = most.filter(|n| *n > 0 && *n < sorted.len()) {
        return ((sorted[n - 1] + sorted[n]) / 2.0).clamp(0.15, 1.5);
    }
    // Two heaps of gaps, on a scale of ratios: Otsu's threshold parts them.
    let scale = |gap: f64| (ln(gap.clamp(0.05, 4.0) / 0.05) * 50.0) as u8;
    let parted = ink::otsu(gaps.iter().map(|g| scale(*g)));
    let limit = parted.map_or(USUAL, |t| 0.05 * exp((f64::from(t) + 0.5) / 50.0));
    let (narrow, wide): (Vec<f64>, Vec<f64>) = gaps.iter().partition(|g| **g <= limit);
    match (stats::median(&narrow), stats::median(&wide)) {
        (Some(a), Some(b)) if gaps.len() >= 8 => ((a.max(0.02) * b).sqrt()).clamp(0.3, 1.0),
        _ => USUAL,
    }
}
