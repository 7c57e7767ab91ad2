//! The standard normal distribution. `libm` gives the same bits on every platform.

use core::f64::consts::SQRT_2;

/// Probability of a deviation of `z` or more, to either side.
pub(super) fn two_sided_p(z: f64) -> f64 {
    libm::erfc(z.abs() / SQRT_2)
}

/// The deviation that is exceeded, to either side, with probability `p` (0 < p < 1).
pub(super) fn two_sided_z(p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 40.0);
    for _ in 0..80 {
        let middle = (low + high) / 2.0;
        if two_sided_p(middle) > p {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low + high) / 2.0
}

/// The two-sided probability of a deviation whose variance is `inflation` (1 or more) times what
/// `p` took it for.
pub(super) fn widened(p: f64, inflation: f64) -> f64 {
    if p > 0.0 && p < 1.0 {
        two_sided_p(two_sided_z(p) / inflation.sqrt())
    } else {
        p
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tabled_points_of_the_normal_distribution() {
        // The customary table of the normal distribution (values from memory).
        assert!((two_sided_p(1.96) - 0.05).abs() < 1e-5);
        assert!((two_sided_z(0.05) - 1.959_964).abs() < 1e-6);
        assert_eq!(two_sided_p(0.0), 1.0);
    }

    #[test]
    fn twice_the_deviation_at_four_times_the_variance_is_as_likely() {
        let p = widened(two_sided_p(3.0), 4.0);
        assert!((p - two_sided_p(1.5)).abs() < 1e-9, "{p}");
        assert_eq!(widened(1.0, 2.0), 1.0);
        assert_eq!(widened(0.0, 2.0), 0.0);
    }
}
