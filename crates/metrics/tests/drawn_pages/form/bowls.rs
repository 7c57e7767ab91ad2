//! Bowls that are left open, or close too high.

use units::{FaultKind, MeasureName};

use super::{all_near, faults, is_share, page};
use crate::pen::{Flaw, Sheet};
use crate::{paired, read};

const BOWLS: [&str; 4] = [
    "a *dog had bad or goo*d",
    "the gap quit ran sang",
    "*dad laid no day *dull",
    "queen begs gas and quit",
];

#[test]
fn a_bowl_that_closes_too_high_is_told() {
    let page = page(&BOWLS, Flaw::HighBowl(1.55));
    for (wrote, letter) in paired(&page.written, &page.reading) {
        let high = letter.faults.iter().any(|f| f.kind == FaultKind::HighBowl);
        assert_eq!(high, wrote.flawed, "{wrote:?}");
    }
    // The white ends half a pen's width below the ring's middle, and stands as far above the line.
    let drawn = 1.55 * page.sheet.height / page.sheet.short_height();
    all_near(&page.figures(FaultKind::HighBowl), drawn, 0.05);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn a_bowl_that_closes_too_high_is_not_open() {
    page(&BOWLS, Flaw::HighBowl(1.55)).tells_exactly(FaultKind::HighBowl);
}

#[test]
fn a_round_letter_that_closes_too_high_is_told() {
    let page = page(
        &[
            "*a bad day and *a gap",
            "the mad hat s*at",
            "a tall man r*an an hour",
        ],
        Flaw::HighBowl(1.55),
    );
    page.tells_exactly(FaultKind::HighBowl);
}

#[test]
fn a_bowl_left_open_in_some_letters_is_told() {
    let page = page(
        &[
            "*a good d*og had",
            "g*ot an *old oar",
            "dr*aw a *queen an egg",
        ],
        Flaw::Open,
    );
    all_near(&page.tells_exactly(FaultKind::Open), 0.1, 0.2);
    is_share(
        &page.reading,
        MeasureName::WellFormed,
        page.sound_share(|_| true),
    );
}

#[test]
fn a_printed_line_opens_no_bowl() {
    let sheet = Sheet {
        text: vec![
            "a bid dog adds be",
            "lodge a did nod and",
            "red dawn had dad in",
        ],
        ..Sheet::default()
    };
    assert_eq!(faults(&read(&sheet)), []);
}
