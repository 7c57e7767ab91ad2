//! Pages after the start of a focus against pages before it.

/// Fewest pages before.
const MIN_BEFORE: usize = 3;
/// Fewest pages after.
const MIN_AFTER: usize = 5;

/// Non-overlap of all pairs: the share of pairs of a value before and a value after in which the
/// later one is larger, ties counting half. 0.5 means no difference, 0 that all fell. `None` with
/// fewer than three values before or five after.
pub fn nap(before: &[f64], after: &[f64]) -> Option<f64> {
    if before.len() < MIN_BEFORE || after.len() < MIN_AFTER {
        return None;
    }
    let mut larger = 0.0;
    for earlier in before {
        for later in after {
            if later > earlier {
                larger += 1.0;
            } else if later == earlier {
                larger += 0.5;
            }
        }
    }
    Some(larger / (before.len() * after.len()) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_examples_of_parker_and_vannest_2009() {
        // Parker & Vannest 2009, Behavior Therapy 40:357-367.
        let before = [4.0, 3.0, 4.0, 3.0, 4.0, 7.0, 5.0, 2.0, 3.0, 2.0];
        let after = [5.0, 9.0, 7.0, 9.0, 7.0, 5.0, 9.0, 11.0, 11.0, 10.0, 9.0];
        assert!((nap(&before, &after).unwrap() - 0.963_636).abs() < 1e-6);
        let before = [20.0, 20.0, 26.0, 25.0, 22.0, 23.0];
        let after = [28.0, 25.0, 24.0, 27.0, 30.0, 30.0, 29.0];
        assert!((nap(&before, &after).unwrap() - 0.916_667).abs() < 1e-6);
    }

    #[test]
    fn too_few_pages_are_not_compared() {
        assert_eq!(nap(&[1.0, 2.0], &[3.0; 8]), None);
        assert_eq!(nap(&[1.0; 8], &[3.0; 4]), None);
        assert_eq!(nap(&[1.0; 3], &[1.0; 5]), Some(0.5));
    }
}
