//! Printed lines → all of them: lines bend alike, so that one which strays from the others is set
//! right, and one which is missing is looked for where the others say it must be.

use super::Rule;
use super::follow::{Strips, smooth_rows};
use crate::stats::{self, Curve};

/// How every line bends, from those found: at each strip the way from a line's middle row to its
/// row there, as a smooth function of the middle row.
struct Family {
    bends: Vec<Option<Curve>>,
}

impl Family {
    fn new(rules: &[Rule], strips: &Strips) -> Self {
        let terms = if rules.len() >= 6 { 3 } else { 2 };
        let bends = strips
            .middles
            .iter()
            .map(|x| {
                let points: Vec<(f64, f64)> = rules
                    .iter()
                    .map(|r| (r.middle(), r.at(*x) - r.middle()))
                    .collect();
                Curve::fit(&points, terms)
            })
            .collect();
        Self { bends }
    }

    fn row(&self, middle: f64, strip: usize) -> f64 {
        middle + self.bends[strip].map_or(0.0, |c| c.at(middle))
    }

    /// How far a line lies off the family, over most of its length.
    fn off(&self, rule: &Rule, strips: &Strips) -> f64 {
        let off: Vec<f64> = strips
            .middles
            .iter()
            .enumerate()
            .map(|(i, x)| (rule.at(*x) - self.row(rule.middle(), i)).abs())
            .collect();
        stats::quantile(&off, 0.85).unwrap_or(0.0)
    }
}

/// Sets right what strays and adds what is missing. `pitch` is the distance after which lines
/// repeat.
pub(super) fn complete(rules: Vec<Rule>, strips: &Strips, pitch: f64) -> Vec<Rule> {
    const PASSES: usize = 6;
    if rules.len() < 4 {
        return rules;
    }
    let family = Family::new(&rules, strips);
    let limit = 0.3 * strips.px_per_mm;
    let (mut kept, strays): (Vec<Rule>, Vec<Rule>) = rules
        .into_iter()
        .partition(|r| family.off(r, strips) < limit);
    let usual: Vec<f64> = kept
        .iter()
        .map(|r| darkness(strips, |i| r.at(strips.middles[i])))
        .collect();
    let Some(usual) = stats::median(&usual) else {
        return kept;
    };
    let mut wanted: Vec<f64> = strays.iter().map(Rule::middle).collect();
    for _ in 0..PASSES {
        wanted.extend(
            kept.iter()
                .flat_map(|r| [r.middle() - pitch, r.middle() + pitch]),
        );
        wanted.sort_by(f64::total_cmp);
        let before = kept.len();
        for middle in wanted.drain(..) {
            let known = |m: f64| kept.iter().any(|r| (r.middle() - m).abs() < 2.0 * limit);
            if known(middle) {
                continue;
            }
            if let Some(rule) = seek(strips, &family, middle, usual)
                && !known(rule.middle())
            {
                kept.push(rule);
            }
        }
        if kept.len() == before {
            break;
        }
    }
    kept.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
    kept
}

/// Mean darkness along a path over all strips, what is very dark (ink) not counted in full.
fn darkness(strips: &Strips, path: impl Fn(usize) -> f64) -> f64 {
    let along: Vec<f64> = (0..strips.middles.len())
        .map(|i| {
            let row = path(i).max(0.0) as usize;
            strips.dark[i].get(row).map_or(0.0, |d| d.clamp(-3.0, 25.0))
        })
        .collect();
    stats::mean(&along).unwrap_or(0.0)
}

/// Looks for a line that bends like its family near a middle row.
fn seek(strips: &Strips, family: &Family, middle: f64, usual: f64) -> Option<Rule> {
    let reach = (0.5 * strips.px_per_mm) as i32;
    let (dark, middle) = (-reach..=reach)
        .map(|off| {
            let m = middle + f64::from(off);
            (darkness(strips, |i| family.row(m, i)), m)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    if dark < (0.35 * usual).max(0.8) {
        return None;
    }
    let points: Vec<(f64, f64)> = (0..strips.middles.len())
        .filter_map(|i| {
            let (row, here) = strips.darkest(i, family.row(middle, i), 2.0)?;
            (here > 0.5 * dark).then_some((strips.middles[i], row))
        })
        .collect();
    if points.len() * 3 < strips.middles.len() {
        return None;
    }
    let rows = smooth_rows(&points, strips.width, 0.25 * strips.px_per_mm)?;
    Some(Rule { rows })
}
