//! Correction for looking again with every new page.
//!
//! A verdict is on the screen from the fifth page on and changes with each one, so a year gives
//! some forty chances to be misled, not one. Held against the level at every look, about three in
//! ten years in which nothing changes would show a change in some week. So the level is spent as
//! pages come (the idea of Lan & DeMets 1983, Biometrika 70:659-663), in proportion to their number:
//! early looks, at which each page still turns the picture round, get little of it. The factor is
//! set by simulated years in which somebody looks every week.

/// Pages in a school year of one page a week.
const PAGES_A_YEAR: usize = 40;
/// What looking all year costs at its end.
const LOOKS_A_YEAR: f64 = 3.0;

/// A probability raised for all the looks at a history that now has so many pages.
pub(super) fn looked_at_every_page(p: f64, pages: usize) -> f64 {
    let share = pages.min(PAGES_A_YEAR) as f64 / PAGES_A_YEAR as f64;
    (p * LOOKS_A_YEAR / share).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn less_is_asked_of_a_longer_history() {
        assert_eq!(looked_at_every_page(0.01, 40), 0.03);
        assert_eq!(looked_at_every_page(0.01, 20), 0.06);
        assert_eq!(looked_at_every_page(0.01, 90), 0.03);
        assert_eq!(looked_at_every_page(0.2, 5), 1.0);
    }
}
