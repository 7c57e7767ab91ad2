//! How much pages differ when nothing changes.

use super::square;

/// Standard deviation of (x, y) points about a line, with two degrees of freedom spent on it;
/// `None` with fewer than three points.
pub fn spread_about(points: &[(f64, f64)], line: impl Fn(f64) -> f64) -> Option<f64> {
    let freedom = points.len().checked_sub(2).filter(|freedom| *freedom > 0)?;
    let squares = points.iter().map(|(x, y)| square(y - line(*x)));
    pooled_sd(&[(squares.sum(), freedom as u32)])
}

/// Root mean square of the standard errors of measuring the pages; `None` without pages.
pub fn camera_noise(errors: &[f64]) -> Option<f64> {
    let squares = errors.iter().map(|error| square(*error));
    pooled_sd(&[(squares.sum(), errors.len() as u32)])
}

/// Pooled standard deviation of groups given as (sum of squares, degrees of freedom); `None`
/// without any freedom.
pub fn pooled_sd(groups: &[(f64, u32)]) -> Option<f64> {
    let squares: f64 = groups.iter().map(|group| group.0).sum();
    let freedom: f64 = groups.iter().map(|group| f64::from(group.1)).sum();
    (freedom > 0.0).then(|| (squares / freedom).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pooled_repeatability_of_the_nist_handbook() {
        // NIST/SEMATECH e-Handbook of Statistical Methods 2.4.4.4: five wafers, 60 degrees of
        // freedom each, pooled standard deviation 0.10290.
        let squares = [0.48115, 0.69209, 0.48483, 1.21752, 0.30076];
        let groups = squares.map(|squares| (squares, 60));
        assert!((pooled_sd(&groups).unwrap() - 0.10290).abs() < 5e-6);
    }

    #[test]
    fn spread_about_a_line_spends_two_degrees_of_freedom() {
        let points = [(0.0, 1.0), (1.0, -1.0), (2.0, 1.0), (3.0, -1.0)];
        assert_eq!(spread_about(&points, |_| 0.0), Some(2.0_f64.sqrt()));
        assert_eq!(spread_about(&points[..2], |_| 0.0), None);
    }

    #[test]
    fn camera_noise_is_the_root_mean_square() {
        assert_eq!(camera_noise(&[3.0, 4.0]), Some(12.5_f64.sqrt()));
        assert_eq!(camera_noise(&[]), None);
    }
}
