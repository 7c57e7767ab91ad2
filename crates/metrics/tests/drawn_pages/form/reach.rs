//! Tall letters and tails that are far too short.

use units::{FaultKind, LetterClass, LetterModel, MeasureName};

use super::{all_near, is_share, page};
use crate::pen::{Flaw, Written};

fn is_tall(wrote: &Written) -> bool {
    let model = LetterModel::unjoined();
    let form = model.form(wrote.ch);
    form.is_some_and(|form| form.class == LetterClass::Tall)
}

/// A page on which some tall letters end at so many heights of a short one's strokes.
fn stunted(text: &[&'static str]) {
    let page = page(text, Flaw::Stunted(1.05));
    let figures = page.tells_exactly(FaultKind::NotTall);
    let sheet = &page.sheet;
    let high = (1.05 * sheet.height + sheet.pen) / sheet.short_height();
    all_near(&figures, high, 0.02);
    is_share(
        &page.reading,
        MeasureName::TallClear,
        page.sound_share(is_tall),
    );
    // Reach is no form.
    is_share(&page.reading, MeasureName::WellFormed, 1.0);
}

#[test]
fn tall_letters_that_hardly_clear_the_short_ones_are_told() {
    stunted(&[
        "a *bun or me*dia",
        "sum *hen no *keg",
        "own ca*lm in *fen",
        "mo*th no dose",
    ]);
}

#[test]
fn tall_letters_that_hardly_clear_their_own_kind_are_told() {
    stunted(&[
        "a *bell *had been told",
        "*hold the dar*k la*d",
        "the hal*l held *fold",
        "ba*tch of ol*d *black ink",
    ]);
}

/// A page on which some tails end so little below the line.
fn shallow(text: &[&'static str]) {
    let page = page(text, Flaw::Shallow(0.06));
    let figures = page.tells_exactly(FaultKind::NotBelow);
    let drawn = 0.06 * page.sheet.height / page.sheet.short_height();
    all_near(&figures, drawn, 0.03);
    is_share(&page.reading, MeasureName::WellFormed, 1.0);
}

#[test]
fn tails_that_do_not_cross_the_line_are_told() {
    shallow(&[
        "a *gun by *jam to",
        "the *queen sets *pans",
        "rain on mud is wet",
        "*yes he is a tall man",
    ]);
}

#[test]
fn tails_far_shorter_than_their_own_kind_are_told() {
    shallow(&[
        "a *gun by *jam *queen",
        "*pay my *yard u*p to go",
        "the *jug big hat *pops",
        "quit stop jog yet a pup",
    ]);
}
