//! How often mistakes were put right.

use crate::maths::square;
use units::{MeasureName, WhyNot};

use super::{Evidence, Named, measured, missing};

/// Fewer words say nothing about a page.
const LEAST: usize = 5;

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let words = evidence.words.len();
    if words < LEAST {
        return vec![(MeasureName::Corrections, missing(WhyNot::TooFewWords))];
    }
    let found = evidence.corrections.len() as f64;
    let value = 100.0 * found / words as f64;
    // About one correction in five is missed or seen where there is none; on any page one may be.
    let se = 100.0 * (1.0 + square(0.25 * found)).sqrt() / words as f64;
    let places = evidence
        .corrections
        .iter()
        .map(|mended| (0.0, mended.bounds.in_mm(evidence.mm)))
        .collect();
    vec![(
        MeasureName::Corrections,
        measured(value, se, None, words, places),
    )]
}
