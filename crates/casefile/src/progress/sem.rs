//! The error of one page and the least change between two pages that is not error.

use core::f64::consts::SQRT_2;

/// Standard error of measurement from the standard deviation between pupils and the agreement of
/// repeated measuring (Weir 2005).
pub fn sem(sd: f64, icc: f64) -> f64 {
    sd * (1.0 - icc).max(0.0).sqrt()
}

/// The least difference between one page and one other that is, with 95 % confidence, not error of
/// measurement alone (Weir 2005). The mean of k pages has an error of `sem` / √k.
pub fn mdc95(sem: f64) -> f64 {
    1.96 * SQRT_2 * sem
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn error_and_least_change_by_the_formulas_of_weir_2005() {
        // Weir 2005, J. Strength Cond. Res. 19:231-240; computed for SD 10, ICC 0.90.
        let error = sem(10.0, 0.90);
        assert!((error - 3.162_278).abs() < 1e-6);
        assert!((mdc95(error) - 8.765_386).abs() < 1e-6);
    }
}
