//! How letters are formed.

use units::{BoxMm, FaultKind, MeasureName, WhyNot};

use super::{Evidence, Named, missing, share};
use crate::letters::formed::Formed;

/// Fewer letters say nothing about a page.
const LEAST: usize = 10;
/// Estimates from photographed pages with known truth, in faces not trained on. Share of sound letters that are taken for faulty.
const FALSE: f64 = 0.02;
/// Share of faulty letters that are taken for sound.
const MISSED: f64 = 0.15;
/// What a letter that was not found adds to the doubt of each.
const ILL_CUT: f64 = 0.5;

/// Reach is an aspect of its own.
fn of_form(kind: FaultKind) -> bool {
    !matches!(kind, FaultKind::NotTall | FaultKind::NotBelow)
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let judged = evidence.glyphs.iter().zip(evidence.formed);
    let judged = judged.filter(|(_, formed)| formed.judged);
    let sound = |formed: &Formed| !formed.faults.iter().any(|fault| of_form(fault.kind));
    let all: Vec<(bool, BoxMm)> = judged
        .map(|(glyph, formed)| (sound(formed), evidence.place(glyph)))
        .collect();
    let outcome = match evidence.why_no_letters() {
        Some(because) => missing(because),
        None if all.len() < LEAST => missing(WhyNot::TooFewLetters),
        None => share(evidence, &all, (FALSE, MISSED, ILL_CUT)),
    };
    vec![(MeasureName::WellFormed, outcome)]
}
