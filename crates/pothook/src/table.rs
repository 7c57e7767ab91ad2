//! Plain tables for a terminal.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use app::api::{Chart, Figure, Verdict};
use app::units::{Measure, Outcome, Reading, TextFit};

use crate::names::{aspect_name, fault_words, kind_name, reason, unit_name};

/// Prints rows with their columns lined up, the first row as a head.
pub(crate) fn print(rows: &[Vec<String>]) {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            .max()
    };
    let widths: Vec<usize> = (0..columns)
        .map(|column| width(column).unwrap_or(0))
        .collect();
    for row in rows {
        let line: Vec<String> = row
            .iter()
            .zip(&widths)
            .map(|(cell, &width)| format!("{cell:<width$}"))
            .collect();
        println!("{}", line.join("  ").trim_end());
    }
}

pub(crate) fn row(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|&cell| cell.to_owned()).collect()
}

fn number(value: f64) -> String {
    // Two decimals carry all that a page can say, but for small spreads and shares.
    if value.abs() < 1.0 {
        format!("{value:.3}")
    } else {
        format!("{value:.2}")
    }
}

/// Measures of one reading.
pub(crate) fn measures(measures: &[Measure]) -> Vec<Vec<String>> {
    let mut rows = vec![row(&[
        "measure", "value", "± se", "spread", "n", "unit", "",
    ])];
    for measure in measures {
        let name = measure.name.text();
        let unit = unit_name(measure.name.unit());
        rows.push(match &measure.outcome {
            Outcome::Measured {
                value,
                se,
                spread,
                n,
                ..
            } => row(&[
                name,
                &number(*value),
                &number(*se),
                &spread.map(number).unwrap_or_default(),
                &n.to_string(),
                unit,
            ]),
            Outcome::NotMeasured { because } => row(&[
                name,
                "–",
                "",
                "",
                "",
                unit,
                &format!("not measured: {}", reason(*because)),
            ]),
        });
    }
    rows
}

/// Figures of one page, with the page before of the same kind.
pub(crate) fn figures(figures: &[Figure]) -> Vec<Vec<String>> {
    let mut rows = vec![row(&[
        "aspect", "measure", "value", "± se", "n", "before", "unit", "",
    ])];
    for figure in figures {
        let shown = |value: Option<f64>| value.map(number).unwrap_or_default();
        rows.push(row(&[
            figure.aspect.map_or("", aspect_name),
            figure.name.text(),
            &figure.value.map_or("–".to_owned(), number),
            &shown(figure.se),
            &figure.n.map(|n| n.to_string()).unwrap_or_default(),
            &shown(figure.before),
            unit_name(figure.unit),
            &match figure.because {
                Some(why) => format!("not measured: {}", reason(why)),
                None if figure.by_hand => "put right by hand".to_owned(),
                None => String::new(),
            },
        ]));
    }
    rows
}

/// What is amiss with letters, most often first.
pub(crate) fn faults(reading: &Reading) -> Vec<Vec<String>> {
    let mut counted = BTreeMap::new();
    for letter in &reading.letters {
        for fault in &letter.faults {
            *counted.entry((letter.char, fault.kind)).or_insert(0) += 1;
        }
    }
    let mut counted: Vec<_> = counted.into_iter().collect();
    counted.sort_by_key(|(_, times)| Reverse(*times));
    let mut rows = vec![row(&["letter", "times", "form"])];
    rows.extend(counted.into_iter().map(|((letter, kind), times)| {
        let letter = letter.map_or("?".to_owned(), String::from);
        row(&[&letter, &times.to_string(), fault_words(kind)])
    }));
    rows
}

/// How the known text goes with the ink, as a sentence.
pub(crate) fn text_fit(fit: &TextFit) -> String {
    if !fit.fits {
        return "The text is not that of this page: no letter is told from it.".to_owned();
    }
    let mut said = format!(
        "{} of {} letters of the text found, {} without ink, {} pieces of ink too many.",
        fit.found,
        fit.letters,
        fit.skipped.len(),
        fit.extra.len(),
    );
    for line in &fit.other_lines {
        said += &format!(" Line {} reads as another text.", line + 1);
    }
    said
}

/// A pupil's progress, a chart a row.
pub(crate) fn charts(charts: &[Chart]) -> Vec<Vec<String>> {
    let head = [
        "aspect",
        "measure",
        "kind",
        "pages",
        "first",
        "last",
        "trend/week",
        "noise",
        "",
    ];
    let mut rows = vec![row(&head)];
    for chart in charts {
        let (Some(first), Some(last)) = (chart.points.first(), chart.points.last()) else {
            continue;
        };
        rows.push(row(&[
            chart.aspect.map_or("", aspect_name),
            chart.name.text(),
            kind_name(chart.kind),
            &chart.points.len().to_string(),
            &number(first.value),
            &number(last.value),
            &chart
                .trend
                .as_ref()
                .map(|trend| format!("{:+.4}", trend.per_week))
                .unwrap_or_default(),
            &chart.noise.map(number).unwrap_or_default(),
            verdict(chart.verdict),
        ]));
    }
    rows
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::TooFewPages => "too few pages to say",
        Verdict::NotYet => "not yet more than noise",
        Verdict::Better => "better, more than noise",
        Verdict::Worse => "less good, more than noise",
        Verdict::Changed => "changed, more than noise",
    }
}
