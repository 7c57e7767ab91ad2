//! What a page carries over from the page before.
//!
//! A good week follows a good week more often than chance has it: illness, a new pencil, a hard
//! term. Pages that hang together wander, and a test that takes them for independent finds
//! trends in wandering. The remedy here is the variance correction of Hamed & Rao 1998
//! (J. Hydrol. 204:182-196) with one autocorrelation at one page's distance that dies away
//! geometrically (Yue & Wang 2004, Water Resour. Manag. 18:201-218).
//!
//! One series of a few dozen pages knows its autocorrelation badly, and every false alarm comes
//! from a series whose estimate fell too low by chance. A page's measures stem from one hand on
//! one day, so what they have in common is known from all of them together; a measure that hangs
//! together more than the others is drawn towards them only as far as the measures differ by
//! chance (Efron & Morris 1975, J. Am. Stat. Assoc. 70:311-319).

use super::square;

/// Highest autocorrelation that is believed; beyond it a few dozen pages can say nothing.
const HIGHEST: f64 = 0.9;

/// How a series of `pages` values hangs together at one page's distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LagOne {
    pages: usize,
    /// Estimate, about right on average.
    value: f64,
}

impl LagOne {
    /// From at least five values in the order of the pages.
    ///
    /// Taken from the differences of one page to the next, not from residuals about the line: a
    /// pupil often improves within a few weeks and then stays, which leaves long runs on one side of
    /// any straight line and would pass for carrying over; a difference sees such a step once. What
    /// carries over by ρ has differences correlated by -(1 - ρ) / 2. The correlation is one of ranks,
    /// as in Hamed & Rao, so that one odd page does not decide, turned into one of values as for
    /// normal deviates (Pearson 1907).
    pub(super) fn of(values: &[f64]) -> Self {
        let differences: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let n = differences.len() as f64;
        let ranks = ranks(&differences);
        let middle = (n - 1.0) / 2.0;
        let together = ranks
            .windows(2)
            .map(|pair| (pair[0] - middle) * (pair[1] - middle));
        let alone: f64 = ranks.iter().map(|rank| square(rank - middle)).sum();
        // A course without any change hangs together as independent pages do.
        let found = if alone > 0.0 {
            together.sum::<f64>() / alone * n / (n - 1.0)
        } else {
            -0.5
        };
        let of_values = 2.0 * libm::sin(core::f64::consts::PI * found.clamp(-1.0, 1.0) / 6.0);
        Self {
            pages: values.len(),
            value: 1.0 + 2.0 * of_values,
        }
    }

    /// Variance of the estimate where pages are independent (Bartlett 1946).
    fn variance(self) -> f64 {
        2.0 / (self.pages as f64 - 2.0)
    }
}

/// The autocorrelation to reckon with for each of several series over the same pages; same order,
/// 0 to 0.9. Pages that alternate are treated as independent: that may be chance and would make a
/// trend look surer than it is.
pub(super) fn shared(series: &[LagOne]) -> Vec<f64> {
    let weights: f64 = series.iter().map(|one| 1.0 / one.variance()).sum();
    let together = series.iter().map(|one| one.value / one.variance());
    let common = together.sum::<f64>() / weights;
    let chance = series.len() as f64 / weights;
    let others = series.len().saturating_sub(1).max(1) as f64;
    let apart: f64 = series.iter().map(|one| square(one.value - common)).sum();
    let own = (apart / others - chance).max(0.0);
    let believed = |one: &LagOne| {
        let share = own / (own + one.variance());
        (common + (share * (one.value - common)).max(0.0)).clamp(0.0, HIGHEST)
    };
    series.iter().map(believed).collect()
}

/// How many times larger the variance of Kendall's S is for `pages` values that hang together so
/// (Hamed & Rao 1998, equation 16).
pub(super) fn inflation(autocorrelation: f64, pages: usize) -> f64 {
    let n = pages as f64;
    let mut carried = 1.0;
    let mut sum = 0.0;
    for apart in (1..pages).map(|apart| apart as f64) {
        carried *= autocorrelation;
        sum += (n - apart) * (n - apart - 1.0) * (n - apart - 2.0) * carried;
    }
    1.0 + 2.0 * sum / (n * (n - 1.0) * (n - 2.0))
}

/// Ranks from 0; equal values share their mean rank.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut from = 0;
    for equal in order.chunk_by(|a, b| values[*a] == values[*b]) {
        let mean = from as f64 + (equal.len() - 1) as f64 / 2.0;
        for at in equal {
            ranks[*at] = mean;
        }
        from += equal.len();
    }
    ranks
}

#[cfg(test)]
mod tests {
    use super::super::mann_kendall;
    use super::*;

    #[test]
    fn equal_values_share_a_rank() {
        assert_eq!(ranks(&[3.0, 1.0, 3.0, 2.0]), [2.5, 0.0, 2.5, 1.0]);
    }

    #[test]
    fn independent_pages_are_left_alone_and_carried_ones_widened() {
        assert_eq!(inflation(0.0, 40), 1.0);
        // Summed by hand for four pages: 1 + 2 (3 x 2 x 1) 0.5 / 24.
        assert!((inflation(0.5, 4) - 1.25).abs() < 1e-12);
        // Many pages: (1 + r) / (1 - r), the variance of a mean of such values.
        assert!((inflation(0.3, 4000) - 1.3 / 0.7).abs() < 0.01);
    }

    #[test]
    fn series_that_differ_by_chance_alone_share_one_value() {
        let series = [0.25, 0.3, 0.35].map(|value| LagOne { pages: 40, value });
        for found in shared(&series) {
            assert!((found - 0.3).abs() < 1e-12, "{found}");
        }
    }

    #[test]
    fn a_series_far_from_the_others_keeps_a_good_part_of_its_own() {
        let mut series = [LagOne {
            pages: 40,
            value: 0.0,
        }; 9];
        series[4].value = 0.9;
        let found = shared(&series);
        assert!(found[4] > 0.4, "{found:?}");
        assert!(found[0] <= 0.1 + 1e-12, "{found:?}");
    }

    /// Courses in which a page keeps `carried` of the one before (AR(1)); SplitMix64, and normal
    /// deviates as sums of twelve uniform ones.
    fn courses(pages: usize, carried: f64, many: usize) -> Vec<Vec<(f64, f64)>> {
        let mut state = 1_998_u64;
        let mut uniform = move || {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut word = state;
            word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            (word ^ (word >> 31)) as f64 / u64::MAX as f64
        };
        let mut normal = move || (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
        let fresh = (1.0 - carried * carried).sqrt();
        let mut course = || {
            let mut value = normal();
            let mut points = Vec::new();
            for day in 0..pages {
                points.push((day as f64, value));
                value = carried * value + fresh * normal();
            }
            points
        };
        (0..many).map(|_| course()).collect()
    }

    #[test]
    fn estimates_are_right_on_average() {
        for (pages, carried) in [
            (9, 0.0),
            (9, 0.3),
            (20, 0.3),
            (40, 0.0),
            (40, 0.3),
            (40, 0.6),
        ] {
            let found = courses(pages, carried, 2_000).into_iter().map(|points| {
                let values: Vec<f64> = points.iter().map(|point| point.1).collect();
                LagOne::of(&values).value
            });
            let mean = found.sum::<f64>() / 2_000.0;
            println!("{pages} pages, {carried}: {mean:.3}");
            assert!((mean - carried).abs() < 0.1, "{pages} {carried} {mean}");
        }
    }

    #[test]
    fn the_variance_of_s_grows_as_reckoned() {
        for (pages, carried) in [(9, 0.3), (20, 0.3), (40, 0.3), (40, 0.6)] {
            let courses = courses(pages, carried, 4_000);
            let squares = courses
                .iter()
                .map(|points| square(mann_kendall(points).s as f64));
            let found = squares.sum::<f64>() / 4_000.0 / mann_kendall(&courses[0]).variance;
            let wanted = inflation(carried, pages);
            println!("{pages} pages, {carried}: {found:.3}, reckoned {wanted:.3}");
            // Four thousand courses know a variance to about 2.2 %, and the formula is one for long
            // series.
            assert!((found / wanted - 1.0).abs() < 0.12, "{found} {wanted}");
        }
    }

    #[test]
    fn a_step_is_not_taken_for_carrying_over() {
        let found = courses(40, 0.0, 500).into_iter().map(|points| {
            let stepped = points
                .iter()
                .map(|(day, value)| value + if *day < 12.0 { 0.0 } else { 4.0 });
            LagOne::of(&stepped.collect::<Vec<_>>()).value
        });
        let mean = found.sum::<f64>() / 500.0;
        assert!(mean.abs() < 0.15, "{mean}");
    }

    #[test]
    fn pages_that_alternate_count_as_independent() {
        let values: Vec<f64> = (0..20).map(|page| f64::from(page % 2)).collect();
        assert_eq!(shared(&[LagOne::of(&values)]), [0.0]);
        assert_eq!(shared(&[LagOne::of(&[1.0; 6])]).len(), 1);
        assert!(shared(&[]).is_empty());
    }
}
