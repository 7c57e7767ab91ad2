//! Letters that only fall short of their shape: sure for their neighbours' sake.

use super::Hit;
use crate::aspects::SURE;

/// Share of a line's letters that must fit, shortcomings allowed for, before any is trusted for its
/// neighbours' sake.
const LINE_FITS: f64 = 0.7;

/// Gives a letter that only falls short the confidence it would have otherwise, where its neighbours' inks
/// border on its own and fit.
pub(super) fn trust(hits: &mut [Option<Hit>], allowed: &[f64]) {
    let found = hits.iter().flatten().count() as f64;
    let fit = allowed.iter().filter(|a| **a >= SURE).count() as f64;
    if fit < LINE_FITS * found {
        return;
    }
    // A word's only letter borders on its neighbours across the spaces.
    let borders = |at: usize, own: &Hit| {
        let mut beside = [at.wrapping_sub(2), at.wrapping_sub(1), at + 1, at + 2].into_iter();
        beside.any(|k| {
            let hit = hits.get(k).and_then(Option::as_ref);
            let touches = |hit: &Hit| hit.end == own.first || own.end == hit.first;
            hit.is_some_and(touches) && allowed[k] >= SURE
        })
    };
    let raised: Vec<usize> = hits
        .iter()
        .enumerate()
        .filter_map(|(at, hit)| Some((at, hit.as_ref()?)))
        .filter(|(at, hit)| hit.confidence < SURE && allowed[*at] >= SURE)
        .filter(|(at, hit)| borders(*at, hit))
        .map(|(at, _)| at)
        .collect();
    for at in raised {
        if let Some(hit) = &mut hits[at] {
            hit.identity = allowed[at];
        }
    }
}
