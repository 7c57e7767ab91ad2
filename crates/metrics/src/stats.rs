//! Small robust statistics. Every sum runs in the order of its input, so the same letters give the
//! same figure everywhere.

use crate::maths::{exp, square};

/// The median; the mean of the two middle values where their number is even.
pub(crate) fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value below which a share `q` (0 to 1) of the values lies, by linear interpolation.
pub(crate) fn quantile(values: &[f64], q: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let place = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let below = place.floor() as usize;
    let mut values = values.to_vec();
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    Some(low + (high - low) * (place - below as f64))
}

/// The grey that more than so many greys lie at or below.
pub(crate) fn ranked(greys: &[u8], rank: usize) -> u8 {
    let (mut low, mut high) = (0, u8::MAX);
    while low < high {
        let middle = low.midpoint(high);
        // Counted in short stretches, so that many greys are compared at once.
        let stretches = greys.chunks(255).map(|some| {
            let below: u8 = some.iter().map(|grey| u8::from(*grey <= middle)).sum();
            usize::from(below)
        });
        if stretches.sum::<usize>() > rank {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// The mean.
pub(crate) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The standard deviation of the whole population; `None` for fewer than two values.
pub(crate) fn deviation(values: &[f64]) -> Option<f64> {
    let centre = mean(values)?;
    (values.len() >= 2).then(|| {
        let sum: f64 = values.iter().map(|v| square(v - centre)).sum();
        (sum / values.len() as f64).sqrt()
    })
}

/// The median absolute deviation, scaled to estimate the standard deviation of a normal sample.
pub(crate) fn mad(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let away: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    // 1.4826 = 1 / Φ⁻¹(3/4).
    median(&away).map(|m| m * 1.4826)
}

/// Which values lie within `limit` robust deviations (never less than `floor`) of the median.
pub(crate) fn near_median(values: &[f64], limit: f64, floor: f64) -> Vec<bool> {
    let (Some(centre), Some(width)) = (median(values), mad(values)) else {
        return Vec::new();
    };
    let reach = limit * width.max(floor);
    values.iter().map(|v| (v - centre).abs() <= reach).collect()
}

/// Slope and intercept of Theil and Sen: the median of all pair slopes and the median of what is
/// left (Sen 1968). `None` where no two points differ in x.
pub(crate) fn theil_sen(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            if (b.0 - a.0).abs() > 1e-6 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    let slope = median(&slopes)?;
    let rest: Vec<f64> = points.iter().map(|p| p.1 - slope * p.0).collect();
    Some((slope, median(&rest)?))
}

/// Least squares slope and intercept. `None` where no two points differ in x.
pub(crate) fn least_squares(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    let mx = points.iter().map(|p| p.0).sum::<f64>() / n;
    let my = points.iter().map(|p| p.1).sum::<f64>() / n;
    let var: f64 = points.iter().map(|p| square(p.0 - mx)).sum();
    let cov: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    (var > 1e-9).then(|| (cov / var, my - cov / var * mx))
}

/// A polynomial of at most third degree fitted to points, less and less moved by those far off.
/// Coefficients are for `(x - centre) / reach`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Curve {
    centre: f64,
    reach: f64,
    terms: [f64; 4],
}

impl Curve {
    /// Fits with the given number of terms (1 to 4), reweighting by Tukey's biweight.
    pub(crate) fn fit(points: &[(f64, f64)], terms: usize) -> Option<Self> {
        let terms = terms.clamp(1, 4).min(points.len());
        let (first, last) = points
            .iter()
            .fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p.0), b.max(p.0)));
        if points.is_empty() {
            return None;
        }
        let mut curve = Self {
            centre: (first + last) / 2.0,
            reach: ((last - first) / 2.0).max(1.0),
            terms: [0.0; 4],
        };
        let mut weights = vec![1.0; points.len()];
        for _ in 0..5 {
            curve.terms = curve.solve(points, &weights, terms)?;
            let off: Vec<f64> = points.iter().map(|p| (p.1 - curve.at(p.0)).abs()).collect();
            let scale = (median(&off)? * 1.4826).max(1e-3);
            for (w, o) in weights.iter_mut().zip(&off) {
                let u = o / (4.685 * scale);
                *w = if u < 1.0 { square(1.0 - u * u) } else { 0.0 };
            }
        }
        Some(curve)
    }

    /// The curve's value.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let t = ((x - self.centre) / self.reach).clamp(-1.5, 1.5);
        self.terms.iter().rev().fold(0.0, |sum, c| sum * t + c)
    }

    fn solve(&self, points: &[(f64, f64)], weights: &[f64], n: usize) -> Option<[f64; 4]> {
        let mut m = [[0.0; 5]; 4];
        for (p, w) in points.iter().zip(weights) {
            let t = (p.0 - self.centre) / self.reach;
            let powers = [1.0, t, t * t, t * t * t];
            for i in 0..n {
                for j in 0..n {
                    m[i][j] += w * powers[i] * powers[j];
                }
                m[i][4] += w * powers[i] * p.1;
            }
        }
        for i in 0..n {
            let pivot = (i..n).max_by(|a, b| m[*a][i].abs().total_cmp(&m[*b][i].abs()))?;
            m.swap(i, pivot);
            if m[i][i].abs() < 1e-9 {
                return None;
            }
            for row in i + 1..n {
                let f = m[row][i] / m[i][i];
                let above = m[i];
                for (cell, a) in m[row].iter_mut().zip(above).skip(i) {
                    *cell -= f * a;
                }
            }
        }
        let mut out = [0.0; 4];
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|j| m[i][j] * out[j]).sum();
            out[i] = (m[i][4] - known) / m[i][i];
        }
        Some(out)
    }
}

/// A value between points in rising order of x, by linear interpolation; the ends are carried on
/// level. Nothing where there are no points.
pub(crate) fn between(points: &[(f64, f64)], x: f64) -> f64 {
    let after = points.partition_point(|p| p.0 < x);
    match (
        after.checked_sub(1).and_then(|i| points.get(i)),
        points.get(after),
    ) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0).max(1e-9),
        (Some(end), None) | (None, Some(end)) => end.1,
        (None, None) => 0.0,
    }
}

/// Rounds to a fixed number of decimals; never gives a negative zero.
pub(crate) fn round(value: f64, decimals: i32) -> f64 {
    let unit = (0..decimals).fold(1.0, |unit, _| unit * 10.0);
    let rounded = (value * unit).round() / unit;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A Gaussian of the given width (in samples) laid over a profile, ends repeated.
pub(crate) fn smooth(profile: &[f64], sigma: f64) -> Vec<f64> {
    let reach = (3.0 * sigma).ceil() as isize;
    let kernel: Vec<f64> = (-reach..=reach)
        .map(|k| exp(-0.5 * square(k as f64 / sigma.max(1e-6))))
        .collect();
    let total: f64 = kernel.iter().sum();
    let last = profile.len() as isize - 1;
    (0..profile.len() as isize)
        .map(|i| {
            let sum: f64 = kernel
                .iter()
                .enumerate()
                .map(|(k, w)| w * profile[(i + k as isize - reach).clamp(0, last) as usize])
                .sum();
            sum / total
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn theil_sen_gives_the_published_slope() {
        // Sen 1968, JASA 63:1379-1389, the example of section 6.
        let points = [
            (1.0, 9.0),
            (2.0, 15.0),
            (3.0, 19.0),
            (4.0, 20.0),
            (10.0, 45.0),
            (12.0, 55.0),
            (18.0, 78.0),
        ];
        assert_eq!(theil_sen(&points).map(|fit| fit.0), Some(4.0));
    }

    #[test]
    fn a_curve_is_not_moved_by_a_few_points_far_off() {
        let points: Vec<(f64, f64)> = (0..40)
            .map(|i| {
                let x = f64::from(i);
                let wrong = if i % 13 == 5 { 30.0 } else { 0.0 };
                (x, 2.0 + 0.1 * x - 0.004 * x * x + wrong)
            })
            .collect();
        let curve = Curve::fit(&points, 3).unwrap();
        assert!((curve.at(20.0) - (2.0 + 2.0 - 1.6)).abs() < 1e-6);
    }
}
