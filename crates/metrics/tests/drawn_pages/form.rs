//! Faults of form, drawn in some letters of a page and not in others.
//!
//! The pages are plain: only what was drawn can be told.

mod bowls;
mod reach;

use units::{FaultKind, MeasureName, Outcome, Reading, WhyNot};

use crate::pen::{Flaw, Sheet, Written};
use crate::{measure, paired, read, value};

/// A page with a flaw, its letters as written and what was read of it.
struct Page {
    sheet: Sheet,
    written: Vec<Written>,
    reading: Reading,
}

impl Page {
    /// Holds every letter against what was drawn: those with the flaw have this fault alone, the others
    /// none, and without the flaw none has any. Gives what each fault's figure is.
    fn tells_exactly(&self, kind: FaultKind) -> Vec<f64> {
        let flawed: Vec<FaultKind> = vec![kind];
        for (wrote, letter) in paired(&self.written, &self.reading) {
            let found: Vec<FaultKind> = letter.faults.iter().map(|fault| fault.kind).collect();
            let drawn = if wrote.flawed { &flawed[..] } else { &[] };
            assert_eq!(found, drawn, "{kind:?} of {wrote:?}");
        }
        let sound = read(&Sheet {
            flaw: None,
            ..self.sheet.clone()
        });
        assert_eq!(faults(&sound), [], "the same page without {kind:?}");
        assert_eq!(value(&sound, MeasureName::WellFormed), 1.0);
        assert_eq!(value(&sound, MeasureName::TallClear), 1.0);
        self.figures(kind)
    }

    fn figures(&self, kind: FaultKind) -> Vec<f64> {
        let all = faults(&self.reading).into_iter();
        all.filter(|(_, found, _)| *found == kind)
            .map(|(_, _, figure)| figure)
            .collect()
    }

    /// Share of some of the letters that were drawn without the flaw.
    fn sound_share(&self, of: impl Fn(&Written) -> bool) -> f64 {
        let those = self.written.iter().filter(|wrote| of(wrote));
        let (sound, all) = those.fold((0, 0), |(sound, all), wrote| {
            (sound + usize::from(!wrote.flawed), all + 1)
        });
        sound as f64 / f64::from(all)
    }
}

fn page(text: &[&'static str], flaw: Flaw) -> Page {
    let sheet = Sheet {
        text: text.to_vec(),
        flaw: Some(flaw),
        pitch: None,
        ..Sheet::default()
    };
    Page {
        written: sheet.written(),
        reading: read(&sheet),
        sheet,
    }
}

/// Every fault of a page: its letter, what, and its figure.
fn faults(reading: &Reading) -> Vec<(Option<char>, FaultKind, f64)> {
    let letters = reading.letters.iter();
    letters
        .flat_map(|l| {
            l.faults
                .iter()
                .map(|f| (l.char, f.kind, f.figure.map_or(f64::NAN, |v| v.0)))
        })
        .collect()
}

/// Shares are kept to four decimals.
fn is_share(reading: &Reading, name: MeasureName, drawn: f64) {
    let found = value(reading, name);
    assert!(
        (found - drawn).abs() < 1e-4,
        "{name:?} {found}, drawn {drawn}"
    );
}

fn all_near(figures: &[f64], drawn: f64, within: f64) {
    let off = figures.iter().find(|f| (*f - drawn).abs() > within);
    assert!(
        !figures.is_empty() && off.is_none(),
        "{figures:?}, drawn {drawn}"
    );
}

const ALPHABET: [&str; 5] = [
    "a big brown dog begs",
    "jim was quite a fierce",
    "zebra kept by the dark",
    "queens vex every jog",
    "six lazy cats hum and nod",
];

#[test]
fn a_sound_page_of_every_letter_has_no_fault_and_reads_as_meant() {
    for pitch in [None, Some(10.0)] {
        let sheet = Sheet {
            text: ALPHABET.to_vec(),
            pitch,
            ..Sheet::default()
        };
        let (written, reading) = (sheet.written(), read(&sheet));
        assert_eq!(faults(&reading), [], "{pitch:?}");
        for (wrote, letter) in paired(&written, &reading) {
            let reads = letter.reads.expect("every letter is read");
            assert!(reads.as_meant.0 > 0.5, "{wrote:?}: {reads:?}");
        }
        is_share(&reading, MeasureName::WellFormed, 1.0);
    }
}

#[test]
fn a_d_in_two_parts_is_told() {
    let page = page(
        &[
            "a bi*d dog a*d*ds be",
            "lo*dge a did no*d and",
            "re*d *dawn had dad in",
            "ol*d yar*d under",
        ],
        Flaw::Apart(0.12),
    );
    let figures = page.tells_exactly(FaultKind::Apart);
    // White is seen in whole pixels, of which there are 25 to the x-height.
    let drawn = 0.12 * page.sheet.height / page.sheet.short_height();
    all_near(&figures, drawn, 0.04);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
    is_share(&page.reading, MeasureName::TallClear, 1.0);
}

#[test]
fn an_e_with_its_eye_filled_is_told() {
    let page = page(
        &[
            "we n*eed the b*est",
            "k*ept *even he went",
            "s*ee the red *eel",
            "m*et seven wet hens",
        ],
        Flaw::Filled,
    );
    all_near(&page.tells_exactly(FaultKind::EyeClosed), 0.0, 0.004);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn letters_turned_round_are_told() {
    let page = page(
        &[
            "a *bad *dog *begs on",
            "a sad cra*b did lea*d",
            "*sized ja*zz band *stay*s",
            "it i*s a bir*d for mess",
            "*puma *quiz top quip",
        ],
        Flaw::Mirrored,
    );
    // A probability.
    all_near(&page.tells_exactly(FaultKind::Reversed), 1.0, 0.3);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn an_i_or_j_without_its_dot_is_told() {
    let page = page(
        &[
            "*i did it in w*inter",
            "*jam is jet l*it",
            "big f*in *jolly trip",
        ],
        Flaw::NoDot,
    );
    page.tells_exactly(FaultKind::NoDot);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn an_f_without_its_bar_is_told() {
    let page = page(
        &[
            "*fat of *first fog",
            "a lea*f fell of*f",
            "half a loa*f for food",
        ],
        Flaw::NoBar,
    );
    // The hook sticks out of an f's stem, above the bar.
    all_near(&page.tells_exactly(FaultKind::NoBar), 0.05, 0.05);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn a_t_without_its_bar_is_told() {
    let page = page(
        &[
            "*to set fa*t top *tent",
            "left foot off lo*t",
            "cut i*t often at four",
        ],
        Flaw::NoBar,
    );
    all_near(&page.tells_exactly(FaultKind::NoBar), 0.0, 0.06);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn a_page_of_few_letters_has_no_share() {
    let reading = read(&Sheet {
        text: vec!["a dog"],
        pitch: None,
        ..Sheet::default()
    });
    let outcome = &measure(&reading, MeasureName::WellFormed).outcome;
    let because = WhyNot::TooFewLetters;
    assert_eq!(*outcome, Outcome::NotMeasured { because });
}
