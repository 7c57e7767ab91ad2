//! What a person puts right on a page, laid over what was found.

mod any_page;
mod letters;
mod sheet;
mod verdicts;

use metrics::read_page;
use units::{Amendment, BoxMm, FaultKind, Letter, MeasureName, Mm, Outcome, Reading};

use crate::pen::{Flaw, Sheet};
use crate::{measure, unchecked};

fn read_with(sheet: &Sheet, amendments: &[Amendment]) -> Reading {
    let mut expect = sheet.expectation();
    expect.amendments = amendments.to_vec();
    read_page(&sheet.page(), &expect, unchecked())
}

/// A page with some dots missing.
fn dotless() -> Sheet {
    Sheet {
        text: vec![
            "*i did it in w*inter",
            "a jam is a jet l*it",
            "big fin jolly trip",
        ],
        flaw: Some(Flaw::NoDot),
        pitch: None,
        ..Sheet::default()
    }
}

fn bytes(reading: &Reading) -> Vec<u8> {
    serde_json::to_vec(reading).expect("a reading can be written")
}

fn a_box(x0: f64, y0: f64, x1: f64, y1: f64) -> BoxMm {
    BoxMm {
        x0: Mm(x0),
        y0: Mm(y0),
        x1: Mm(x1),
        y1: Mm(y1),
    }
}

fn first(reading: &Reading, of: impl Fn(&Letter) -> bool) -> usize {
    reading.letters.iter().position(of).expect("such a letter")
}

fn has(letter: &Letter, kind: FaultKind) -> bool {
    letter.faults.iter().any(|fault| fault.kind == kind)
}

/// Letters, words or lines that a measure rests on.
fn rests_on(reading: &Reading, name: MeasureName) -> u32 {
    match measure(reading, name).outcome {
        Outcome::Measured { n, .. } => n,
        ref other => panic!("{name:?}: {other:?}"),
    }
}

/// Measures that are marked as other than without help are other, and no more.
fn marked(before: &Reading, after: &Reading) -> Vec<MeasureName> {
    let pairs = before.measures.iter().zip(&after.measures);
    for (without, with) in pairs {
        assert_eq!(
            with.by_hand,
            with.outcome != without.outcome,
            "{:?}",
            with.name
        );
    }
    let by_hand = after.measures.iter().filter(|m| m.by_hand);
    by_hand.map(|m| m.name).collect()
}
