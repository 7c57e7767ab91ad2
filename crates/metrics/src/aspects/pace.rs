//! How many letters were written in a minute.
//!
//! No photograph tells it: the minutes come from an adult with a clock, and what was written from the
//! known text. Only letters whose ink was found count, so that a page broken off early is not taken
//! for a finished one.

use units::{MeasureName, Outcome, WhyNot};

use super::{Evidence, Named, measured, missing};
use crate::letters::{Glyph, WordInk};
use crate::maths::square;

/// Fewer letters say nothing about a pace.
const LEAST: usize = 20;

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let outcome = match (evidence.minutes, evidence.why_no_letters()) {
        (None, _) => missing(WhyNot::NotTimed),
        (_, Some(because)) => missing(because),
        (Some(minutes), None) => pace(evidence.words, evidence.glyphs, minutes),
    };
    vec![(MeasureName::Pace, outcome)]
}

fn pace(words: &[WordInk], glyphs: &[Glyph], minutes: u16) -> Outcome {
    let letters = |text: &str| text.chars().filter(|c| c.is_alphabetic()).count();
    let spelled: usize = words
        .iter()
        .filter(|word| word.struck.is_none())
        .map(|word| word.text.as_deref().map_or(0, letters))
        .sum();
    let known = glyphs.iter().filter_map(|glyph| glyph.ch);
    let found = known.filter(|c| c.is_alphabetic()).count();
    let unnamed = glyphs.iter().filter(|glyph| glyph.ch.is_none()).count();
    from_counts(found, spelled.saturating_sub(found) + unnamed, minutes)
}

/// Letters found, letters that may have been written besides, and whole minutes.
fn from_counts(found: usize, missed: usize, minutes: u16) -> Outcome {
    if found < LEAST || minutes == 0 {
        return missing(WhyNot::TooFewLetters);
    }
    let minutes = f64::from(minutes);
    let value = found as f64 / minutes;
    // Whole minutes are off by half a minute at most, every part of it as likely.
    let clock = value / minutes / 12.0_f64.sqrt();
    let se = (square(missed as f64 / minutes) + square(clock)).sqrt();
    measured(value, se, None, found, Vec::new())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(outcome: &Outcome) -> (f64, f64, u32) {
        match outcome {
            Outcome::Measured { value, se, n, .. } => (*value, *se, *n),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn letters_over_minutes() {
        let (value, se, n) = figures(&from_counts(180, 0, 5));
        assert_eq!((value, n), (36.0, 180));
        // Half a minute either way, evenly spread: 5 min ± 0.289, so 36 ± 2.08.
        assert!((se - 2.078_46).abs() < 1e-4, "{se}");
    }

    #[test]
    fn letters_that_were_missed_widen_the_doubt() {
        let (value, se, _) = figures(&from_counts(180, 15, 5));
        assert_eq!(value, 36.0);
        assert!((se - 3.0_f64.hypot(2.078_46)).abs() < 1e-4, "{se}");
    }

    #[test]
    fn a_few_letters_are_no_pace() {
        let none = missing(WhyNot::TooFewLetters);
        assert_eq!(from_counts(19, 0, 1), none);
        assert_eq!(from_counts(200, 0, 0), none);
    }
}
