//! Correction for having looked at many measures.

/// Each probability raised so that, whatever number of measures was looked at, the chance of any
/// false alarm stays below the level it is held against (Holm 1979, step down). Same order as
/// given.
pub fn holm(probabilities: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|a, b| probabilities[*a].total_cmp(&probabilities[*b]));
    let mut adjusted = vec![0.0; probabilities.len()];
    let mut highest = 0.0_f64;
    for (rank, index) in order.into_iter().enumerate() {
        let left = (probabilities.len() - rank) as f64;
        highest = highest.max((left * probabilities[index]).min(1.0));
        adjusted[index] = highest;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worked_by_hand_from_the_definition() {
        // Holm 1979: 4 x 0.005, 3 x 0.01, 2 x 0.03, and no less than that for the last.
        let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
        for (found, wanted) in adjusted.iter().zip([0.03, 0.06, 0.06, 0.02]) {
            assert!((found - wanted).abs() < 1e-12, "{adjusted:?}");
        }
        assert_eq!(holm(&[0.9, 0.8]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }
}
