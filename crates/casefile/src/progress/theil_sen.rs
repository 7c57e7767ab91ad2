//! The slope that is the median of the slopes between all pairs of points.

use super::mann_kendall::variance;
use super::median;
use super::normal::two_sided_z;

/// A straight line through points, with an interval for its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Units of y for each unit of x.
    pub slope: f64,
    /// Median of y less the slope times the median of x.
    pub intercept: f64,
    /// Lower end of the slope's interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl TheilSen {
    /// The line's value at x.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }
}

/// The line through (x, y) points and its interval at a confidence between 0 and 1; `None` unless
/// two points differ in x.
///
/// The interval's ends are order statistics of the slopes (Sen 1968, section 4), taken outwards to
/// whole ranks.
pub fn theil_sen(points: &[(f64, f64)], confidence: f64) -> Option<TheilSen> {
    Some(Slopes::of(points)?.line(confidence))
}

/// The slopes between all pairs of points, from which the interval of any confidence follows.
pub(super) struct Slopes {
    sorted: Vec<f64>,
    slope: f64,
    intercept: f64,
    /// Standard deviation of Kendall's S.
    deviation: f64,
}

impl Slopes {
    /// `None` unless two points differ in x.
    pub fn of(points: &[(f64, f64)]) -> Option<Self> {
        let mut sorted = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
        for (index, a) in points.iter().enumerate() {
            for b in &points[index + 1..] {
                if a.0 != b.0 {
                    sorted.push((b.1 - a.1) / (b.0 - a.0));
                }
            }
        }
        if sorted.is_empty() {
            return None;
        }
        sorted.sort_by(f64::total_cmp);
        let slope = median(&sorted);
        let (x, y) = (middle_of(points, |p| p.0), middle_of(points, |p| p.1));
        Some(Self {
            sorted,
            slope,
            intercept: y - slope * x,
            deviation: variance(points).sqrt(),
        })
    }

    /// The line with its interval at this confidence.
    pub fn line(&self, confidence: f64) -> TheilSen {
        let width = two_sided_z(1.0 - confidence) * self.deviation;
        let count = self.sorted.len();
        let outwards = ((count as f64 - width) / 2.0).floor().max(1.0) as usize;
        let rank = outwards.min(count.div_ceil(2)) - 1;
        TheilSen {
            slope: self.slope,
            intercept: self.intercept,
            low: self.sorted[rank],
            high: self.sorted[count - 1 - rank],
        }
    }
}

fn middle_of(points: &[(f64, f64)], pick: impl Fn(&(f64, f64)) -> f64) -> f64 {
    let mut values: Vec<f64> = points.iter().map(pick).collect();
    values.sort_by(f64::total_cmp);
    median(&values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_of_sen_1968() {
        // Sen 1968, J. Am. Stat. Assoc. 63:1379-1389, the numerical illustration: slope 4, and the
        // 93 % interval from 26/7 to 35/8.
        let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        let points: Vec<_> = x.into_iter().zip(y).collect();
        let line = theil_sen(&points, 0.93).unwrap();
        assert_eq!(line.slope, 4.0);
        assert!((line.low - 26.0 / 7.0).abs() < 1e-12, "{line:?}");
        assert!((line.high - 35.0 / 8.0).abs() < 1e-12, "{line:?}");
    }

    #[test]
    fn slope_and_intercept_as_scipy_has_them() {
        // Recomputed with scipy.stats.theilslopes 1.17.
        let y = super::super::mann_kendall::tests::FOURTEEN;
        let points: Vec<_> = (0..14).map(f64::from).zip(y).collect();
        let line = theil_sen(&points, 0.95).unwrap();
        assert!((line.slope - 0.566_667).abs() < 1e-6, "{line:?}");
        assert!((line.intercept - 11.966_667).abs() < 1e-6, "{line:?}");
        assert!(line.low <= line.slope && line.slope <= line.high);
    }

    #[test]
    fn no_slope_without_two_different_days() {
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)], 0.95), None);
        assert_eq!(theil_sen(&[], 0.95), None);
    }
}
