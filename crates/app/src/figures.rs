//! Measures as figures for a screen.

use units::{Measure, Outcome, PageRecord, Reading};

use crate::api::Figure;

/// The figures of a page's newest reading; `before` is the page before of the same kind.
pub(crate) fn figures(page: &PageRecord, before: Option<&PageRecord>) -> Vec<Figure> {
    let earlier = before.map_or(&[][..], newest);
    newest(page)
        .iter()
        .map(|measure| {
            let before = earlier
                .iter()
                .find(|other| other.name == measure.name)
                .and_then(|other| value(&other.outcome));
            figure(measure, before)
        })
        .collect()
}

/// Says which figures rest on what a person put right. Only the whole reading tells it.
pub(crate) fn mark_by_hand(figures: &mut [Figure], reading: &Reading) {
    for figure in figures {
        let of = |measure: &&Measure| measure.name == figure.name;
        let measure = reading.measures.iter().find(of);
        figure.by_hand = measure.is_some_and(|measure| measure.by_hand);
    }
}

/// The measures of a page's newest reading; empty where there is none.
pub(crate) fn newest(page: &PageRecord) -> &[Measure] {
    page.readings
        .last()
        .map_or(&[], |reading| &reading.measures)
}

fn value(outcome: &Outcome) -> Option<f64> {
    match outcome {
        Outcome::Measured { value, .. } => Some(*value),
        Outcome::NotMeasured { .. } => None,
    }
}

fn figure(measure: &Measure, before: Option<f64>) -> Figure {
    let name = measure.name;
    let empty = Figure {
        name,
        aspect: name.aspect(),
        unit: name.unit(),
        value: None,
        se: None,
        spread: None,
        n: None,
        because: None,
        before: None,
        by_hand: false,
    };
    match &measure.outcome {
        Outcome::Measured {
            value,
            se,
            spread,
            n,
            ..
        } => Figure {
            value: Some(*value),
            se: Some(*se),
            spread: *spread,
            n: Some(*n),
            before,
            ..empty
        },
        Outcome::NotMeasured { because } => Figure {
            because: Some(*because),
            ..empty
        },
    }
}
