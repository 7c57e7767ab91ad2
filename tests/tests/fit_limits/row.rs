//! The same fault in all hands: one line of a table, and the rule.

use demo::font::Fonts;
use units::FitFault;

use crate::shot::{Errors, Shot};
use crate::wrong::{WRITERS, Wrong};

/// The most that the x-height may be off, as a share.
const MOST_ERROR: f64 = 0.04;
/// Pages that a step is judged by: two of each hand.
const PAGES: usize = 2 * WRITERS.len();
/// The least share of words that must be found.
const LEAST_WORDS: f64 = 0.9;
/// The middle one, or the mean of the two in the middle.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    let middle = |k: usize| all.get(k).copied().unwrap_or(f64::NAN);
    0.5 * (middle(all.len().saturating_sub(1) / 2) + middle(all.len() / 2))
}

/// Titles of the columns.
pub fn head(fault: FitFault) -> String {
    format!(
        "{fault:<24?} {:>7} {:>6}  {:>7} {:>8}  {:>6} {:>8}  {:>6} {:>6}",
        "figure", "limit", "x-height", "worst", "slant", "word gap", "words", "letters"
    )
}

/// One line of the table.
pub fn row(wrong: Option<&Wrong>, fault: FitFault, shots: &[Option<Shot>]) -> String {
    let name = wrong.map_or("nothing wrong".to_owned(), ToString::to_string);
    let (figure, limit) = middle_check(fault, shots);
    let letters = shots
        .iter()
        .map(|s| s.as_ref().map_or(0.0, |s| s.errors.letters));
    format!(
        "{name:24} {figure:7.3} {limit:6.2}  {:>6.2} % {:>6.2} %  {:>5.2}° {:>6.3} o  {:>4.0} % \
         {:>4.0} %  {} {}",
        100.0 * x_height(shots),
        100.0 * worst_x_height(shots),
        slant(shots),
        median(shots.iter().map(|s| error(s, |e| e.word_gap))),
        100.0 * words(shots),
        100.0 * median(letters),
        if measured(shots) {
            "measured"
        } else {
            "not     "
        },
        refusals(shots)
    )
}

/// Figure and limit of the photograph that stands in the middle.
fn middle_check(fault: FitFault, shots: &[Option<Shot>]) -> (f64, f64) {
    let checks = shots.iter().flatten().filter_map(|s| s.check(fault));
    let mut both: Vec<(f64, f64)> = checks.map(|c| (c.figure, c.limit)).collect();
    both.sort_by(|a, b| (a.0 / a.1).total_cmp(&(b.0 / b.1)));
    let middle = both.len() / 2;
    both.get(middle).copied().unwrap_or((f64::NAN, f64::NAN))
}

/// How many pages are refused, and what for.
fn refusals(shots: &[Option<Shot>]) -> String {
    let found = shots.iter().flatten();
    let refused = found.filter(|s| !s.fitness.fit()).count();
    let mut faults = Vec::new();
    for fault in shots.iter().flatten().flat_map(Shot::refused) {
        if !faults.contains(&fault) {
            faults.push(fault);
        }
    }
    match refused {
        0 => String::new(),
        some => format!("refused {some}/{}: {faults:?}", shots.len()),
    }
}

/// Size of an error; what is not measured counts as endlessly wrong.
fn error(shot: &Option<Shot>, of: impl Fn(&Errors) -> Option<f64>) -> f64 {
    let error = shot.as_ref().and_then(|s| of(&s.errors));
    error.map_or(f64::INFINITY, f64::abs)
}

fn x_height(shots: &[Option<Shot>]) -> f64 {
    median(shots.iter().map(|s| error(s, |e| e.x_height)))
}

/// Of the pages that have one: few letters of a page show how they lean.
fn slant(shots: &[Option<Shot>]) -> f64 {
    let off = shots.iter().flatten().filter_map(|s| s.errors.slant);
    median(off.map(f64::abs))
}

fn worst_x_height(shots: &[Option<Shot>]) -> f64 {
    shots
        .iter()
        .map(|s| error(s, |e| e.x_height))
        .fold(0.0, f64::max)
}

fn words(shots: &[Option<Shot>]) -> f64 {
    median(
        shots
            .iter()
            .map(|s| s.as_ref().map_or(0.0, |s| s.errors.words)),
    )
}

/// The rule.
pub fn measured(shots: &[Option<Shot>]) -> bool {
    x_height(shots) <= MOST_ERROR && words(shots) >= LEAST_WORDS
}

pub fn shots(fonts: &Fonts, wrong: Option<&Wrong>) -> Vec<Option<Shot>> {
    let pages = WRITERS.iter().cycle().take(PAGES);
    pages
        .zip(70..)
        .map(|(writer, seed)| Shot::take(fonts, writer, wrong, seed))
        .collect()
}

pub fn fonts() -> Fonts {
    Fonts::load(&Fonts::folder()).expect("the fonts that set-up brings")
}
