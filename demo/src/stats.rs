//! The few statistics that the truth is made of.

/// A straight line y = intercept + slope · x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Change of y for each unit of x.
    pub slope: f64,
    /// y where x is 0.
    pub intercept: f64,
}

impl Fit {
    /// The line at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }
}

/// Arithmetic mean.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Standard deviation of the values themselves (divided by n).
pub fn sd(values: &[f64]) -> Option<f64> {
    let middle = mean(values)?;
    let squares: f64 = values.iter().map(|v| (v - middle) * (v - middle)).sum();
    (values.len() > 1).then(|| libm::sqrt(squares / values.len() as f64))
}

/// Root mean square.
pub fn rms(values: &[f64]) -> Option<f64> {
    let squares: Vec<f64> = values.iter().map(|v| v * v).collect();
    mean(&squares).map(libm::sqrt)
}

/// Median; the mean of the two middle values for an even count.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        count if count % 2 == 1 => Some(sorted[half]),
        _ => Some((sorted[half - 1] + sorted[half]) / 2.0),
    }
}

/// Median of the slopes through all pairs (Sen 1968, JASA 63:1379-1389), with the median
/// intercept.
pub fn theil_sen(points: &[(f64, f64)]) -> Option<Fit> {
    let slopes: Vec<f64> = points
        .iter()
        .enumerate()
        .flat_map(|(index, a)| points[index + 1..].iter().map(move |b| (a, b)))
        .filter(|(a, b)| b.0 != a.0)
        .map(|(a, b)| (b.1 - a.1) / (b.0 - a.0))
        .collect();
    let slope = median(&slopes)?;
    let rests: Vec<f64> = points.iter().map(|(x, y)| y - slope * x).collect();
    Some(Fit {
        slope,
        intercept: median(&rests)?,
    })
}

/// Ordinary least squares.
pub fn least_squares(points: &[(f64, f64)]) -> Option<Fit> {
    let count = points.len() as f64;
    let (mx, my) = (
        points.iter().map(|p| p.0).sum::<f64>() / count,
        points.iter().map(|p| p.1).sum::<f64>() / count,
    );
    let across: f64 = points.iter().map(|p| (p.0 - mx) * (p.0 - mx)).sum();
    let along: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    (points.len() > 1 && across > 0.0).then(|| Fit {
        slope: along / across,
        intercept: my - along / across * mx,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn theil_sen_gives_the_published_example() {
        // Sen 1968, section 6: slope 4.
        let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        let points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
        assert_eq!(theil_sen(&points).map(|fit| fit.slope), Some(4.0));
    }

    #[test]
    fn nothing_has_no_mean_and_one_value_no_spread() {
        assert_eq!((mean(&[]), sd(&[3.0]), median(&[])), (None, None, None));
        assert_eq!(sd(&[2.0, 4.0]), Some(1.0));
    }
}
