//! How letters are joined, where the letter model joins them.

use units::{BoxMm, JoinVerdict, MeasureName, Mm, WhyNot};

use super::{Evidence, Named, missing, share};

/// Fewer joins say nothing about a page.
const LEAST: usize = 8;
/// Estimates from photographed pages with known truth, in faces not trained on. Share of sound joins that are taken for missing or wrong.
const FALSE: f64 = 0.02;
/// Share of missing and wrong joins that are taken for sound.
const MISSED: f64 = 0.05;
/// What a letter that was not found adds to the doubt of each.
const ILL_CUT: f64 = 1.0;

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let all: Vec<(bool, BoxMm)> = evidence
        .joins
        .iter()
        .map(|join| {
            (
                join.verdict == JoinVerdict::Joined,
                place(evidence, join.left),
            )
        })
        .collect();
    let outcome = match evidence.why_no_letters() {
        _ if !evidence.model.is_joined() => missing(WhyNot::NoJoins),
        Some(because) => missing(because),
        None if all.len() < LEAST => missing(WhyNot::TooFewLetters),
        None => share(evidence, &all, (FALSE, MISSED, ILL_CUT)),
    };
    vec![(MeasureName::JoinsMade, outcome)]
}

/// From the middle of a letter to the middle of the next.
fn place(evidence: &Evidence<'_>, left: usize) -> BoxMm {
    let (from, to) = (
        evidence.place(&evidence.glyphs[left]),
        evidence.place(&evidence.glyphs[left + 1]),
    );
    let middle = |b: BoxMm| Mm((b.x0.0 + b.x1.0) / 2.0);
    BoxMm {
        x0: middle(from),
        y0: Mm(from.y0.0.min(to.y0.0)),
        x1: middle(to),
        y1: Mm(from.y1.0.max(to.y1.0)),
    }
}
