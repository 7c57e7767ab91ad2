//! Known distance of faint printed lines → the lines: what repeats after that distance all down the
//! sheet is printed, even where no single line would be believed.

use super::Rule;
use super::follow::{Strips, smooth_rows};
use crate::stats;

/// Repeat distances tried about the expected one: paper is printed to 2 %.
const OFF: f64 = 0.02;
/// How far above its noise the sum over all repeats must stand.
const CLEAR: f64 = 7.0;
/// A line of a group counts where it is at least this share as dark as the darkest.
const LEAST_SHARE: f64 = 0.4;

/// Finds the lines that repeat after about `about` rows; none where nothing clearly does.
pub(super) fn comb(strips: &Strips, about: f64) -> Vec<Rule> {
    let profile = profile(strips);
    let noise = stats::mad(&profile).unwrap_or(0.0).max(0.05);
    let steps = 40;
    let best = (0..=steps)
        .map(|k| about * (1.0 + OFF * (2.0 * f64::from(k) / f64::from(steps) - 1.0)))
        .map(|pitch| {
            let folded = fold(&profile, pitch);
            let most = folded.iter().copied().fold(f64::MIN, f64::max);
            (most, pitch, folded)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((most, pitch, folded)) = best else {
        return Vec::new();
    };
    let repeats = (profile.len() as f64 / pitch).max(1.0);
    if repeats < 3.0 || most < CLEAR * noise / repeats.sqrt() {
        return Vec::new();
    }
    let apart = (0.9 * strips.px_per_mm) as usize;
    let mut rules: Vec<Rule> = phases(&folded, LEAST_SHARE * most, apart)
        .into_iter()
        .flat_map(|phase| lines(strips, &profile, phase, pitch))
        .collect();
    rules.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
    rules
}

/// Darkness of every row over the whole width; ink does not count in full.
fn profile(strips: &Strips) -> Vec<f64> {
    let rows = strips.dark.first().map_or(0, Vec::len);
    let mean: Vec<f64> = (0..rows)
        .map(|y| {
            let sum: f64 = strips.dark.iter().map(|d| d[y].clamp(-2.0, 6.0)).sum();
            sum / strips.dark.len() as f64
        })
        .collect();
    stats::smooth(&mean, 0.12 * strips.px_per_mm)
}

/// Mean of the profile over all repeats of each row of the first.
fn fold(profile: &[f64], pitch: f64) -> Vec<f64> {
    (0..pitch as usize)
        .map(|phase| {
            let rows = (0..).map(|k| phase as f64 + f64::from(k) * pitch);
            let seen: Vec<f64> = rows
                .map(|r| r.round() as usize)
                .take_while(|r| *r < profile.len())
                .map(|r| profile[r])
                .collect();
            stats::mean(&seen).unwrap_or(0.0)
        })
        .collect()
}

/// Highest places of a folded profile, which has no ends.
fn phases(folded: &[f64], least: f64, apart: usize) -> Vec<f64> {
    let n = folded.len();
    let reach = apart.min(n / 2);
    (0..n)
        .filter(|&i| {
            let here = folded[i];
            let highest = |d: usize| here >= folded[(i + d) % n] && here > folded[(i + n - d) % n];
            here >= least && (1..=reach).all(highest)
        })
        .map(|i| i as f64)
        .collect()
}

/// The lines of one phase, each followed from strip to strip where it is seen and straight where
/// it is not.
fn lines(strips: &Strips, profile: &[f64], phase: f64, pitch: f64) -> Vec<Rule> {
    let reach = (0.45 * strips.px_per_mm) as usize;
    let first = (strips.px_per_mm) as usize;
    let rows = (0..).map(|k| phase + f64::from(k) * pitch);
    rows.map(|row| row.round() as usize)
        .take_while(|row| row + first < profile.len())
        .filter(|row| *row >= first)
        .filter_map(|row| {
            let near = row.saturating_sub(reach)..=(row + reach).min(profile.len() - 1);
            let row = near.max_by(|a, b| profile[*a].total_cmp(&profile[*b]))?;
            // Beyond the last printed line the comb finds nothing.
            if profile[row] < 0.3 {
                return None;
            }
            let at = row as f64 + 0.5;
            let points: Vec<(f64, f64)> = (0..strips.middles.len())
                .filter_map(|i| {
                    let (seen, dark) = strips.darkest(i, at, 0.35 * strips.px_per_mm)?;
                    (dark > 1.0).then_some((strips.middles[i], seen))
                })
                .collect();
            let seen = points.len() * 2 > strips.middles.len();
            let rows = seen
                .then(|| smooth_rows(&points, strips.width, 0.25 * strips.px_per_mm))
                .flatten()
                .unwrap_or_else(|| vec![at as f32; strips.width]);
            Some(Rule { rows })
        })
        .collect()
}
