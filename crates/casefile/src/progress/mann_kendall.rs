//! Whether later values tend to be larger, or smaller, than earlier ones.

use super::normal::two_sided_p;

/// Below this many points, the distribution is counted out instead of approximated.
const EXACT_BELOW: usize = 10;

/// The test's result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// Variance of `s` where there is no trend, corrected for ties.
    pub variance: f64,
    /// Standardised `s` with continuity correction; 0 where the variance is 0.
    pub z: f64,
    /// Two-sided probability of such an `s` or a larger one where there is no trend: exact below
    /// ten points unless both days and values are tied, else by the normal approximation.
    pub p: f64,
}

/// Tests (x, y) points for a monotone trend. Pairs tied in x or y say nothing.
pub fn mann_kendall(points: &[(f64, f64)]) -> MannKendall {
    let mut s = 0_i64;
    for (index, a) in points.iter().enumerate() {
        for b in &points[index + 1..] {
            s += sign(b.0 - a.0) * sign(b.1 - a.1);
        }
    }
    let variance = variance(points);
    let beyond = (s.abs() - 1).max(0) as f64;
    let z = if variance > 0.0 {
        s.signum() as f64 * beyond / variance.sqrt()
    } else {
        0.0
    };
    let p = exact_p(points, s).unwrap_or_else(|| two_sided_p(z));
    MannKendall { s, variance, z, p }
}

fn sign(difference: f64) -> i64 {
    i64::from(difference > 0.0) - i64::from(difference < 0.0)
}

/// Variance of S where there is no trend, with ties in either coordinate (Kendall 1970, chapter 4).
pub(super) fn variance(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    if points.len() < 3 {
        return if points.len() == 2 { 1.0 } else { 0.0 };
    }
    let x = ties(points.iter().map(|point| point.0));
    let y = ties(points.iter().map(|point| point.1));
    let total = |ties: &[usize], term: fn(f64) -> f64| -> f64 {
        ties.iter().map(|&tied| term(tied as f64)).sum()
    };
    let first = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let second = |t: f64| t * (t - 1.0);
    let third = |t: f64| t * (t - 1.0) * (t - 2.0);
    (first(n) - total(&x, first) - total(&y, first)) / 18.0
        + total(&x, second) * total(&y, second) / (2.0 * second(n))
        + total(&x, third) * total(&y, third) / (9.0 * third(n))
}

/// Sizes of the groups of equal values.
fn ties(values: impl Iterator<Item = f64>) -> Vec<usize> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.chunk_by(|a, b| a == b).map(<[f64]>::len).collect()
}

/// The exact two-sided probability for few points tied in one coordinate at most.
fn exact_p(points: &[(f64, f64)], s: i64) -> Option<f64> {
    if points.len() >= EXACT_BELOW {
        return None;
    }
    let x = ties(points.iter().map(|point| point.0));
    let y = ties(points.iter().map(|point| point.1));
    let tied = |groups: &[usize]| groups.iter().any(|&size| size > 1);
    let groups = match (tied(&x), tied(&y)) {
        (true, true) => return None,
        (true, false) => x,
        _ => y,
    };
    let counts = inversions(&groups);
    // With k falling pairs among those not tied, S is their number less 2 k.
    let pairs = counts.len() as i64 - 1;
    let all: u64 = counts.iter().sum();
    let extreme: u64 = (0..)
        .zip(&counts)
        .filter(|(falling, _)| (pairs - 2 * falling).abs() >= s.abs())
        .map(|(_, count)| count)
        .sum();
    Some(extreme as f64 / all as f64)
}

/// How many orders of things, in groups of equals, have 0, 1, 2, ... falling pairs: the Gaussian
/// multinomial coefficient.
fn inversions(groups: &[usize]) -> Vec<u64> {
    let mut counts = vec![1_u64];
    let mut placed = 0;
    for &size in groups {
        for step in 1..=size {
            counts = times(&counts, placed + step);
            counts = divided(&counts, step);
        }
        placed += size;
    }
    counts
}

/// Times 1 + q + ... + q^(k-1).
fn times(counts: &[u64], k: usize) -> Vec<u64> {
    let mut product = vec![0; counts.len() + k - 1];
    for (at, count) in counts.iter().enumerate() {
        for power in 0..k {
            product[at + power] += count;
        }
    }
    product
}

/// Divided by 1 + q + ... + q^(k-1), which leaves no remainder here.
fn divided(counts: &[u64], k: usize) -> Vec<u64> {
    let length = counts.len() + 1 - k;
    let mut quotient: Vec<u64> = Vec::with_capacity(length);
    for count in &counts[..length] {
        let before: u64 = quotient.iter().rev().take(k - 1).sum();
        quotient.push(count - before);
    }
    quotient
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(crate) const FOURTEEN: [f64; 14] = [
        12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7,
    ];

    fn series(values: &[f64]) -> Vec<(f64, f64)> {
        (0..).map(f64::from).zip(values.iter().copied()).collect()
    }

    #[test]
    fn fourteen_values_with_a_tie() {
        // Recomputed with scipy 1.17 and the formulas of Kendall 1970.
        let result = mann_kendall(&series(&FOURTEEN));
        assert_eq!(result.s, 54);
        assert!((result.variance - 332.666_7).abs() < 1e-4);
        assert!((result.z - 2.905_837).abs() < 1e-6);
        assert!((result.p - 0.003_663).abs() < 1e-6);
    }

    #[test]
    fn the_exact_distribution_of_few_points() {
        // Counted by hand over the 24 orders of four values: one reaches S = 6, four reach 4.
        assert!((mann_kendall(&series(&[1.0, 2.0, 3.0, 4.0])).p - 2.0 / 24.0).abs() < 1e-12);
        assert!((mann_kendall(&series(&[2.0, 1.0, 3.0, 4.0])).p - 8.0 / 24.0).abs() < 1e-12);
        assert_eq!(mann_kendall(&series(&[2.0, 1.0])).p, 1.0);
    }

    #[test]
    fn the_exact_distribution_agrees_with_counting_every_order() {
        let values = [1.0, 2.0, 2.0, 3.0, 3.0, 3.0, 7.0];
        let mut orders = Vec::new();
        every_order(&mut values.to_vec(), 0, &mut orders);
        for asked in [values.to_vec(), vec![3.0, 1.0, 2.0, 3.0, 2.0, 7.0, 3.0]] {
            let result = mann_kendall(&series(&asked));
            let as_far = orders
                .iter()
                .filter(|order| mann_kendall(&series(order)).s.abs() >= result.s.abs())
                .count();
            let counted = as_far as f64 / orders.len() as f64;
            assert!((result.p - counted).abs() < 1e-12, "{asked:?}");
        }
    }

    fn every_order(values: &mut Vec<f64>, from: usize, out: &mut Vec<Vec<f64>>) {
        if from == values.len() {
            out.push(values.clone());
        }
        for other in from..values.len() {
            values.swap(from, other);
            every_order(values, from + 1, out);
            values.swap(from, other);
        }
    }

    #[test]
    fn the_variance_with_ties_in_days_and_values_agrees_with_counting_every_order() {
        let days = [0.0, 0.0, 1.0, 2.0, 2.0, 3.0];
        let mut orders = Vec::new();
        every_order(&mut vec![1.0, 1.0, 2.0, 4.0, 4.0, 4.0], 0, &mut orders);
        let squares: f64 = orders
            .iter()
            .map(|order| {
                let points: Vec<_> = days.into_iter().zip(order.iter().copied()).collect();
                (mann_kendall(&points).s as f64) * (mann_kendall(&points).s as f64)
            })
            .sum();
        let points: Vec<_> = days.into_iter().zip(orders[0].iter().copied()).collect();
        assert!((variance(&points) - squares / orders.len() as f64).abs() < 1e-9);
    }

    #[test]
    fn nothing_but_ties_is_no_trend() {
        let result = mann_kendall(&series(&[3.0; 12]));
        assert_eq!((result.s, result.z, result.p), (0, 0.0, 1.0));
    }
}
