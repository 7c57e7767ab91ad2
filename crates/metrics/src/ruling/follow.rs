//! Grey → printed lines, followed from strip to strip across the sheet.

use image::GrayImage;

use super::Rule;
use crate::ink::PAPER;
use crate::stats::{self, Curve};

/// How closely lines are looked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    /// Width of the strips in which lines are looked for, mm.
    strip: f64,
    /// Columns of a strip that are looked at.
    columns: usize,
}

impl Look {
    /// Narrow strips follow a line however it bends.
    pub(super) const CLOSE: Self = Self {
        strip: 6.0,
        columns: 24,
    };
    /// Wide ones see lines that are hardly there, where the sheet lies straight.
    pub(super) const FAINT: Self = Self {
        strip: 20.0,
        columns: 96,
    };
}

/// Darkness, in grey levels, below which nothing is followed as a line.
const LEAST_DARK: f64 = 2.5;
/// Share of the sheet on which a line must be seen.
const LEAST_SEEN: f64 = 0.4;

/// How much darker each row is than the rows above and below it, in overlapping upright strips, as
/// most of a strip's columns have it: writing darkens few columns of a row, a printed line them all.
pub(super) struct Strips {
    /// Middle column of every strip.
    pub middles: Vec<f64>,
    /// For every strip, the darkness of every row.
    pub dark: Vec<Vec<f64>>,
    pub width: usize,
    pub px_per_mm: f64,
}

impl Strips {
    /// `None` where the picture is too small to be cut into strips.
    pub(super) fn new(grey: &GrayImage, px_per_mm: f64, look: Look) -> Option<Self> {
        let (w, h) = (grey.width() as usize, grey.height() as usize);
        let strip = (look.strip * px_per_mm) as usize;
        if strip < 12 || w < 4 * strip || h < strip {
            return None;
        }
        let starts: Vec<usize> = (0..=w - strip).step_by(strip / 2).collect();
        Some(Self {
            middles: starts.iter().map(|s| (s + strip / 2) as f64).collect(),
            dark: darkness(grey, &starts, (strip, look.columns), px_per_mm),
            width: w,
            px_per_mm,
        })
    }

    /// The darkest row of a strip within `reach` rows of a place, finer than a pixel, and its
    /// darkness.
    pub(super) fn darkest(&self, strip: usize, row: f64, reach: f64) -> Option<(f64, f64)> {
        let dark = &self.dark[strip];
        let first = (row - reach).max(3.0) as usize;
        let last = ((row + reach).max(0.0) as usize).min(dark.len().saturating_sub(4));
        let best = (first..=last).max_by(|a, b| dark[*a].total_cmp(&dark[*b]))?;
        Some((centre(dark, best), dark[best]))
    }
}

/// The darkness of every row in strips that begin at `starts`, `strip` columns wide, of which `n` are
/// looked at.
fn darkness(
    grey: &GrayImage,
    starts: &[usize],
    (strip, n): (usize, usize),
    px_per_mm: f64,
) -> Vec<Vec<f64>> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let raw = grey.as_raw();
    let row = |y: usize| &raw[y * w..(y + 1) * w];
    let away = apart(px_per_mm);
    let mut dark = vec![vec![0.0f64; h]; starts.len()];
    let mut columns = vec![[0_i16; ROWS]; w];
    let mut values = vec![[0_i16; ROWS]; n];
    let comparisons = comparisons(n);
    let offsets: Vec<usize> = (0..n).map(|i| i * strip / n).collect();
    // A quarter from either end: writing is dark in few columns of a row, a printed line in all.
    let (low, high) = (n / 4, n * 5 / 8);
    for first in (away..h - away).step_by(ROWS) {
        let rows = ROWS.min(h - away - first);
        for k in 0..rows {
            let y = first + k;
            let sides = row(y - away).iter().zip(row(y + away));
            for ((column, here), (above, below)) in columns.iter_mut().zip(row(y)).zip(sides) {
                let side = (*above).min(*below).min(PAPER + 8);
                column[k] = i16::from(side) - i16::from(*here);
            }
        }
        for (&start, dark) in starts.iter().zip(&mut dark) {
            for (values, offset) in values.iter_mut().zip(&offsets) {
                *values = columns[start + offset];
            }
            sort_each(&mut values, &comparisons);
            for (k, cell) in dark[first..first + rows].iter_mut().enumerate() {
                let sum: i32 = values[low..high].iter().map(|v| i32::from(v[k])).sum();
                *cell = f64::from(sum) / (high - low) as f64;
            }
        }
    }
    dark
}

/// Rows whose values are sorted side by side.
const ROWS: usize = 8;

/// Sorts the first numbers of all sets among themselves, the second, and so on, by the same
/// comparisons for all.
fn sort_each(sets: &mut [[i16; ROWS]], comparisons: &[(usize, usize)]) {
    for &(a, b) in comparisons {
        let (x, y) = (sets[a], sets[b]);
        for k in 0..ROWS {
            sets[a][k] = x[k].min(y[k]);
            sets[b][k] = x[k].max(y[k]);
        }
    }
}

/// The comparisons that sort `n` numbers, whatever they are (Batcher 1968, odd-even merge sort).
fn comparisons(n: usize) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut merged = 1;
    while merged < n {
        let mut step = merged;
        while step >= 1 {
            for first in (step % merged..n.saturating_sub(step)).step_by(2 * step) {
                let pairs = (first..(first + step).min(n - step)).map(|a| (a, a + step));
                out.extend(pairs.filter(|(a, b)| a / (2 * merged) == b / (2 * merged)));
            }
            step /= 2;
        }
        merged *= 2;
    }
    out
}

/// Rows from a line's middle to where the paper is seen again.
fn apart(px_per_mm: f64) -> usize {
    (0.5 * px_per_mm).round().max(2.0) as usize
}

/// The middle of a dark row and its neighbours, weighed by their darkness.
fn centre(dark: &[f64], row: usize) -> f64 {
    let (mut weight, mut sum) = (0.0, 0.0);
    for (y, v) in dark.iter().enumerate().take(row + 3).skip(row - 2) {
        let v = (v - 0.25 * dark[row]).max(0.0);
        weight += v;
        sum += v * y as f64;
    }
    if weight > 0.0 {
        sum / weight + 0.5
    } else {
        row as f64 + 0.5
    }
}

/// Rows of a strip that are darker than all about them and than its noise.
fn peaks(dark: &[f64], px_per_mm: f64) -> Vec<f64> {
    let reach = apart(px_per_mm);
    let noise = stats::mad(&dark[reach..dark.len() - reach]).unwrap_or(0.0);
    let floor = (4.0 * noise).max(LEAST_DARK);
    (reach..dark.len() - reach)
        .filter(|&y| {
            dark[y] >= floor
                && dark[y - reach..y].iter().all(|v| *v < dark[y])
                && dark[y + 1..=y + reach].iter().all(|v| *v <= dark[y])
        })
        .map(|y| centre(dark, y))
        .collect()
}

/// Peaks strung together from strip to strip.
#[derive(Debug, Clone)]
struct Chain {
    points: Vec<(f64, f64)>,
    strips: Vec<usize>,
}

impl Chain {
    fn ahead(&self, x: f64) -> f64 {
        let n = self.points.len();
        let last = self.points[n - 1];
        if n < 4 {
            return last.1;
        }
        let tail = &self.points[n.saturating_sub(6)..];
        stats::least_squares(tail).map_or(last.1, |(slope, rest)| slope * x + rest)
    }
}

/// Strings the peaks of neighbouring strips together into lines, top to bottom.
pub(super) fn follow(strips: &Strips) -> Vec<Rule> {
    let px_per_mm = strips.px_per_mm;
    let mut open: Vec<Chain> = Vec::new();
    let mut closed: Vec<Chain> = Vec::new();
    for (index, (dark, &middle)) in strips.dark.iter().zip(&strips.middles).enumerate() {
        string(&mut open, &peaks(dark, px_per_mm), index, middle, px_per_mm);
        let (going, ended) = open
            .into_iter()
            .partition(|c: &Chain| index - c.strips[c.strips.len() - 1] < 8);
        open = going;
        closed.extend(ended);
    }
    closed.extend(open);
    let count = strips.middles.len();
    rules_from(join_ends(closed, px_per_mm), count, strips.width, px_per_mm)
}

fn string(open: &mut Vec<Chain>, peaks: &[f64], index: usize, middle: f64, px_per_mm: f64) {
    let mut taken = vec![false; open.len()];
    let ahead: Vec<(f64, f64)> = open
        .iter()
        .map(|chain| {
            let missed = (index - chain.strips[chain.strips.len() - 1]) as f64;
            (chain.ahead(middle), (0.25 + 0.05 * missed) * px_per_mm)
        })
        .collect();
    for &peak in peaks {
        let nearest = (0..ahead.len())
            .filter(|&i| !taken[i])
            .map(|i| (i, (ahead[i].0 - peak).abs(), ahead[i].1))
            .filter(|&(_, off, limit)| off < limit)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((i, ..)) = nearest {
            taken[i] = true;
            open[i].points.push((middle, peak));
            open[i].strips.push(index);
        } else {
            open.push(Chain {
                points: vec![(middle, peak)],
                strips: vec![index],
            });
        }
    }
}

/// Puts a chain behind another that it carries on.
fn join_ends(mut chains: Vec<Chain>, px_per_mm: f64) -> Vec<Chain> {
    chains.retain(|c| c.points.len() >= 4);
    chains.sort_by(|a, b| {
        (a.strips[0], a.points[0].1)
            .partial_cmp(&(b.strips[0], b.points[0].1))
            .unwrap_or(core::cmp::Ordering::Equal)
    });
    let mut joined: Vec<Chain> = Vec::new();
    for chain in chains {
        let (x, y) = chain.points[0];
        let before = joined
            .iter_mut()
            .filter(|c| c.points[c.points.len() - 1].0 < x)
            .map(|c| {
                let away = (c.ahead(x) - y).abs();
                (c, away)
            })
            .filter(|(_, away)| *away < 0.6 * px_per_mm)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match before {
            Some((c, _)) => {
                c.points.extend(chain.points);
                c.strips.extend(chain.strips);
            }
            None => joined.push(chain),
        }
    }
    joined
}

fn rules_from(chains: Vec<Chain>, strips: usize, width: usize, px_per_mm: f64) -> Vec<Rule> {
    let mut rules: Vec<Rule> = chains
        .into_iter()
        .filter(|c| c.points.len() as f64 >= LEAST_SEEN * strips as f64)
        .filter_map(|c| {
            let rows = smooth_rows(&c.points, width, 0.25 * px_per_mm)?;
            Some(Rule { rows })
        })
        .collect();
    let middle = width as f64 / 2.0;
    rules.sort_by(|a, b| a.at(middle).total_cmp(&b.at(middle)));
    rules.dedup_by(|b, a| (b.at(middle) - a.at(middle)).abs() < 0.6 * px_per_mm);
    rules
}

/// The row for every column: a smooth curve through the points, moved by what its neighbourhood is
/// off it (a lens or a crease bends more finely than the curve can), and carried on straight beyond
/// the ends.
pub(super) fn smooth_rows(points: &[(f64, f64)], width: usize, stray: f64) -> Option<Vec<f32>> {
    let curve = Curve::fit(points, 4)?;
    let off: Vec<(f64, f64)> = points
        .iter()
        .map(|p| (p.0, p.1 - curve.at(p.0)))
        .filter(|p| p.1.abs() < stray)
        .collect();
    let near = |i: usize| {
        let around: Vec<f64> = off[i.saturating_sub(2)..(i + 3).min(off.len())]
            .iter()
            .map(|p| p.1)
            .collect();
        stats::mean(&around).unwrap_or(0.0)
    };
    let moved: Vec<(f64, f64)> = (0..off.len()).map(|i| (off[i].0, near(i))).collect();
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    let tangent = |x: f64| (curve.at(x + 10.0) - curve.at(x - 10.0)) / 20.0;
    let rows = (0..width).map(|x| {
        let x = x as f64 + 0.5;
        let inside = x.clamp(first, last);
        let row =
            curve.at(inside) + stats::between(&moved, inside) + tangent(inside) * (x - inside);
        row as f32
    });
    Some(rows.collect())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn every_set_comes_out_sorted(values in proptest::collection::vec(any::<[i16; ROWS]>(), 0..100)) {
            let mut sets = values.clone();
            sort_each(&mut sets, &comparisons(values.len()));
            for k in 0..ROWS {
                let mut one: Vec<i16> = values.iter().map(|set| set[k]).collect();
                one.sort_unstable();
                prop_assert_eq!(one, sets.iter().map(|set| set[k]).collect::<Vec<_>>());
            }
        }
    }
}
