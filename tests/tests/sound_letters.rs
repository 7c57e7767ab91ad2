//! The letters of the committed pages are drawn as their typefaces have them, without a fault of form: what
//! is said to be amiss with them is said wrongly. Another page's text is found out on each of them.
//!
//! `cargo test -p pothook-tests --test sound_letters -- --nocapture` prints every page.

use std::fs;
use std::path::PathBuf;

use demo::manifest::{Entry, Manifest};
use units::{Expectation, Fitness, MeasureName, Outcome, Reading, WhyNot};

/// Sound letters of a hundred that may be called faulty: what the measure's own doubt rests on.
const MOST_FALSE: f64 = 0.02;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("pages")
}

fn entries() -> Vec<Entry> {
    let text = fs::read_to_string(folder().join("manifest.json")).expect("the manifest is there");
    let manifest: Manifest = serde_json::from_str(&text).expect("the manifest fits its schema");
    manifest.pages
}

fn expectation(entry: &Entry) -> Expectation {
    entry.expectation().expect("a ruling of these pages")
}

fn read(entry: &Entry, expect: &Expectation) -> Reading {
    let bytes = fs::read(folder().join(&entry.image)).expect("the photograph is there");
    let photo = metrics::decode(&bytes).expect("a photograph");
    let page = metrics::find_page(&photo, expect).expect("a sheet");
    metrics::read_page(&page, expect, Fitness { checks: Vec::new() })
}

fn outcome(reading: &Reading, name: MeasureName) -> &Outcome {
    let mut measures = reading.measures.iter();
    let measure = measures.find(|measure| measure.name == name);
    &measure.expect("every measure is given").outcome
}

#[test]
fn sound_letters_are_hardly_ever_called_faulty() {
    let (mut letters, mut faulty, mut outside) = (0.0, 0.0, 0);
    for entry in entries() {
        let reading = read(&entry, &expectation(&entry));
        let Outcome::Measured { value, se, n, .. } = outcome(&reading, MeasureName::WellFormed)
        else {
            panic!("{}: not measured", entry.id);
        };
        println!("{:24} {value:.4} ± {se:.4} of {n}", entry.id);
        letters += f64::from(*n);
        faulty += (1.0 - value) * f64::from(*n);
        outside += usize::from(1.0 - value > 1.96 * se);
    }
    println!("{faulty:.0} of {letters:.0} called faulty, {outside} pages outside their interval");
    assert!(letters > 2_000.0 && faulty / letters <= MOST_FALSE);
    assert!(outside <= 1, "{outside}");
}

#[test]
fn the_text_of_another_page_is_found_out_and_nothing_is_made_up() {
    let all = entries();
    for (index, entry) in all.iter().enumerate() {
        let own = expectation(entry);
        let mut others = all.iter().map(expectation).cycle().skip(index + 1);
        let other = others
            .find(|other| shared(&own, other) < 0.3)
            .expect("another text");
        let told = Expectation {
            text: other.text,
            ..own
        };
        let reading = read(entry, &told);
        let text = reading.text.as_ref().expect("a text was told");
        assert!(!text.fits, "{}", entry.id);
        assert!(
            reading
                .letters
                .iter()
                .all(|l| l.char.is_none() && l.reads.is_none())
        );
        let because = WhyNot::TextDoesNotFit;
        let formed = outcome(&reading, MeasureName::WellFormed);
        assert_eq!(*formed, Outcome::NotMeasured { because }, "{}", entry.id);
        let measured = reading.measures.iter().map(|measure| &measure.outcome);
        let others = measured.filter(|o| matches!(o, Outcome::Measured { .. }));
        assert!(others.count() >= 1, "{}", entry.id);
    }
}

/// Share of one text's words that the other has too.
fn shared(one: &Expectation, other: &Expectation) -> f64 {
    let words = |expect: &Expectation| -> Vec<String> {
        let lines = expect.text.iter().flatten();
        lines
            .flat_map(|line| line.split_whitespace().map(str::to_owned))
            .collect()
    };
    let (one, other) = (words(one), words(other));
    let both = one.iter().filter(|word| other.contains(word)).count();
    both as f64 / one.len().max(1) as f64
}
