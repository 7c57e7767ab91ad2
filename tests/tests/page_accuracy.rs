//! How near the measures come to the truth on the committed pages, and that they do not get
//! worse: an error may not grow beyond its recorded figure by more than a tenth (plus a floor,
//! named below, so that an error of nearly nothing may wobble).
//!
//! `POTHOOK_RECORD=1 cargo test -p pothook-tests --test page_accuracy` records anew.
//! The truth comes from the drawing program, which knows nothing of how pages are measured; its
//! formulas are in `tests/pages/README.md`.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use demo::manifest::{Entry, Manifest};
use demo::measures::UNTOLD;
use serde::Deserialize;
use units::{BoxMm, MeasureName, Mesh, Mm, Outcome, Reading};

/// A place in the truth.
#[derive(Deserialize)]
struct Place {
    #[serde(rename = "box")]
    bounds: [f64; 4],
    #[serde(default)]
    char: Option<char>,
    #[serde(default)]
    corrected: bool,
}

#[derive(Deserialize)]
struct Truth {
    page_size_mm: [f64; 2],
    mm_to_px: [f64; 9],
    measures: BTreeMap<String, Option<f64>>,
    words: Vec<Place>,
    letters: Vec<Place>,
}

/// Errors by page and figure; `None` where the figure was not measured.
type Recorded = BTreeMap<String, BTreeMap<String, Option<f64>>>;

/// One row of the table.
struct Row {
    figure: &'static str,
    truth: f64,
    measured: Option<(f64, f64)>,
}

impl Row {
    fn error(&self) -> Option<f64> {
        self.measured.map(|(value, _)| (value - self.truth).abs())
    }
}

/// How much an error may grow before the tenth counts, in the figure's own unit.
fn floor(figure: &str) -> f64 {
    match figure {
        "drift" => 0.03,
        "wander" | "x_height" | "o_width" | "offset" => 0.01,
        "slant" | "slant_sd" => 0.1,
        "growth" => 0.2,
        "corner_mm" => 0.05,
        "corrections" => 0.01,
        _ => 0.005,
    }
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("pages")
}

/// Photograph in, rows out.
fn rows(known: &Entry) -> Vec<Row> {
    let bytes = fs::read(folder().join(&known.image)).expect("the photograph is there");
    let truth = fs::read_to_string(folder().join(format!("{}.truth.json", known.id)))
        .expect("the truth is there");
    let truth: Truth = serde_json::from_str(&truth).expect("the truth fits its schema");
    let expectation = known.expectation().expect("a ruling of these pages");
    let photo = metrics::decode(&bytes).expect("a photograph");
    let page = metrics::find_page(&photo, &expectation).expect("a sheet in it");
    let fitness = metrics::fitness(&page);
    for check in fitness.checks.iter().filter(|check| !check.passed) {
        println!("{}: not fit: {check:?}", known.id);
    }
    let fit = if fitness.fit() { 1.0 } else { 0.0 };
    let reading = metrics::read_page(&page, &expectation, fitness);
    let mut rows: Vec<Row> = reading
        .measures
        .iter()
        .filter(|measure| !UNTOLD.contains(&measure.name))
        .filter_map(|measure| {
            let figure = measure.name.text();
            Some(Row {
                figure,
                truth: (*truth.measures.get(figure).expect("every measure is there"))?,
                measured: match measure.outcome {
                    Outcome::Measured { value, se, .. } => Some((value, se)),
                    Outcome::NotMeasured { .. } => None,
                },
            })
        })
        .collect();
    rows.push(places("words_found", &truth.words, &word_places(&reading)));
    rows.push(places(
        "letters_found",
        &truth.letters,
        &letter_places(&reading),
    ));
    rows.push(Row {
        figure: "fit",
        truth: 1.0,
        measured: Some((fit, f64::NAN)),
    });
    rows.push(corners(&truth, page.frame.to_photo.as_ref()));
    rows
}

/// How far the worst corner of the sheet is off, in millimetres of the sheet.
fn corners(truth: &Truth, found: Option<&Mesh>) -> Row {
    let [width, height] = truth.page_size_mm;
    let m = &truth.mm_to_px;
    let at = |x: f64, y: f64| {
        let w = m[6] * x + m[7] * y + m[8];
        (
            (m[0] * x + m[1] * y + m[2]) / w,
            (m[3] * x + m[4] * y + m[5]) / w,
        )
    };
    let step = {
        let (a, b) = (
            at(width / 2.0, height / 2.0),
            at(width / 2.0 + 1.0, height / 2.0),
        );
        (b.0 - a.0).hypot(b.1 - a.1)
    };
    let worst = found.map(|mesh| {
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
            .into_iter()
            .zip(mesh.corners())
            .map(|((x, y), b)| {
                let a = at(x, y);
                (a.0 - b.0).hypot(a.1 - b.1) / step
            })
            .fold(0.0, f64::max)
    });
    Row {
        figure: "corner_mm",
        truth: 0.0,
        measured: worst.map(|worst| (worst, f64::NAN)),
    }
}

fn word_places(reading: &Reading) -> Vec<(BoxMm, Option<char>)> {
    reading
        .words
        .iter()
        .map(|word| (word.bounds, None))
        .collect()
}

fn letter_places(reading: &Reading) -> Vec<(BoxMm, Option<char>)> {
    reading
        .letters
        .iter()
        .map(|letter| (letter.bounds, letter.char))
        .collect()
}

/// Share of the true places that were found: boxes overlap by at least half of what both cover,
/// and letters are the right ones.
fn places(figure: &'static str, truth: &[Place], found: &[(BoxMm, Option<char>)]) -> Row {
    let wanted: Vec<&Place> = truth
        .iter()
        .filter(|place| !place.corrected && place.char.is_none_or(char::is_alphabetic))
        .collect();
    let hit = |place: &Place| {
        let [x0, y0, x1, y1] = place.bounds;
        let own = BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        };
        let right = |letter: Option<char>| place.char.is_none() || place.char == letter;
        found
            .iter()
            .any(|(other, letter)| right(*letter) && overlap(own, *other) >= 0.5)
    };
    let hits = wanted.iter().filter(|place| hit(place)).count();
    Row {
        figure,
        truth: 1.0,
        measured: Some((hits as f64 / wanted.len() as f64, f64::NAN)),
    }
}

/// Intersection over union.
fn overlap(a: BoxMm, b: BoxMm) -> f64 {
    let area = |x0: f64, y0: f64, x1: f64, y1: f64| (x1 - x0).max(0.0) * (y1 - y0).max(0.0);
    let of = |c: BoxMm| area(c.x0.0, c.y0.0, c.x1.0, c.y1.0);
    let both = area(
        a.x0.0.max(b.x0.0),
        a.y0.0.max(b.y0.0),
        a.x1.0.min(b.x1.0),
        a.y1.0.min(b.y1.0),
    );
    both / (of(a) + of(b) - both)
}

/// Every page's rows; pages are read side by side, in the manifest's order.
fn all_rows() -> Vec<(String, Vec<Row>)> {
    let manifest = fs::read_to_string(folder().join("manifest.json")).expect("a manifest");
    let manifest: Manifest = serde_json::from_str(&manifest).expect("a manifest that fits");
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all = Vec::new();
    for pages in manifest.pages.chunks(cores) {
        std::thread::scope(|scope| {
            let runs: Vec<_> = pages
                .iter()
                .map(|page| scope.spawn(|| rows(page)))
                .collect();
            for (page, run) in pages.iter().zip(runs) {
                all.push((page.id.clone(), run.join().expect("the page is read")));
            }
        });
    }
    all
}

fn print(all: &[(String, Vec<Row>)]) {
    println!(
        "{:<26} {:<16} {:>9} {:>9} {:>9} {:>9}",
        "page", "figure", "truth", "measured", "se", "error"
    );
    for (page, rows) in all {
        for row in rows {
            let (measured, se) = match row.measured {
                Some((value, se)) if se.is_nan() => (format!("{value:.3}"), String::new()),
                Some((value, se)) => (format!("{value:.3}"), format!("{se:.3}")),
                None => ("not".to_owned(), String::new()),
            };
            let error = row
                .error()
                .map(|error| format!("{error:.3}"))
                .unwrap_or_default();
            println!(
                "{page:<26} {:<16} {:>9.3} {measured:>9} {se:>9} {error:>9}",
                row.figure, row.truth
            );
        }
    }
}

/// Median and worst error of each figure, and how often the truth lies within 1.96 standard errors.
fn summary(all: &[(String, Vec<Row>)]) {
    println!(
        "\n{:<16} {:>9} {:>9} {:>9} {:>9}",
        "figure", "measured", "median", "worst", "within"
    );
    let names = MeasureName::ALL.iter().map(|name| name.text());
    for figure in names.chain(["words_found", "letters_found", "corner_mm"]) {
        let rows = || {
            all.iter()
                .flat_map(|(_, rows)| rows)
                .filter(|row| row.figure == figure)
        };
        let mut errors: Vec<f64> = rows().filter_map(Row::error).collect();
        errors.sort_by(f64::total_cmp);
        let within = rows()
            .filter(|row| {
                let near = |(_, se): (f64, f64)| row.error().is_some_and(|e| e <= 1.96 * se);
                row.measured.is_some_and(near)
            })
            .count();
        let Some(worst) = errors.last() else { continue };
        println!(
            "{figure:<16} {:>9} {:>9.3} {worst:>9.3} {:>9}",
            format!("{}/{}", errors.len(), rows().count()),
            errors[errors.len() / 2],
            format!("{within}/{}", errors.len())
        );
    }
}

/// What got worse, in words.
fn worse(page: &str, row: &Row, recorded: &Recorded) -> Option<String> {
    let before = (*recorded.get(page)?.get(row.figure)?)?;
    let figure = row.figure;
    match row.error() {
        None => Some(format!("{page}: {figure} was measured and is not any more")),
        Some(error) if error > before * 1.1 + floor(figure) => Some(format!(
            "{page}: {figure} is off by {error:.4}, recorded {before:.4}"
        )),
        Some(_) => None,
    }
}

#[test]
fn errors_do_not_grow() {
    let all = all_rows();
    print(&all);
    summary(&all);
    let file = folder().join("recorded.json");
    if std::env::var_os("POTHOOK_RECORD").is_some() {
        let rounded = |error: f64| (error * 1e4).round() / 1e4;
        let recorded: Recorded = all
            .iter()
            .map(|(page, rows)| {
                let errors = rows
                    .iter()
                    .map(|row| (row.figure.to_owned(), row.error().map(rounded)));
                (page.clone(), errors.collect())
            })
            .collect();
        let text = serde_json::to_string_pretty(&recorded).expect("plain data") + "\n";
        fs::write(file, text).expect("can be written");
        return;
    }
    let recorded = fs::read_to_string(file).expect("recorded figures; see the head of this file");
    let recorded: Recorded = serde_json::from_str(&recorded).expect("figures that fit");
    let pages: Vec<&String> = all.iter().map(|(page, _)| page).collect();
    assert!(pages.len() >= 12, "at least twelve pages are measured");
    assert!(
        pages.iter().all(|page| recorded.contains_key(*page)),
        "every page has its record"
    );
    let worse: Vec<String> = all
        .iter()
        .flat_map(|(page, rows)| rows.iter().filter_map(|row| worse(page, row, &recorded)))
        .collect();
    assert!(worse.is_empty(), "\n{}", worse.join("\n"));
}

#[test]
fn a_grown_error_and_a_lost_measure_are_noticed() {
    let recorded: Recorded = BTreeMap::from([(
        "page".to_owned(),
        BTreeMap::from([("slant".to_owned(), Some(1.0))]),
    )]);
    let row = |measured: Option<f64>| Row {
        figure: "slant",
        truth: 5.0,
        measured: measured.map(|value| (value, 0.5)),
    };
    assert!(
        worse("page", &row(Some(6.15)), &recorded).is_none(),
        "a tenth and the floor"
    );
    assert!(
        worse("page", &row(Some(6.25)), &recorded).is_some(),
        "more than that"
    );
    assert!(
        worse("page", &row(None), &recorded).is_some(),
        "not measured any more"
    );
    assert!(
        worse("other", &row(None), &recorded).is_none(),
        "no record, no comparison"
    );
}

#[test]
fn overlap_is_intersection_over_union() {
    let at = |x: f64| BoxMm {
        x0: Mm(x),
        y0: Mm(0.0),
        x1: Mm(x + 2.0),
        y1: Mm(2.0),
    };
    assert_eq!(overlap(at(0.0), at(0.0)), 1.0);
    assert_eq!(overlap(at(0.0), at(1.0)), 2.0 / 6.0);
    assert_eq!(overlap(at(0.0), at(5.0)), 0.0);
}
