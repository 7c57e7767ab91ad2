//! Words drawn and put out of use, told apart from words.

use image::{GrayImage, Luma};

use super::*;
use crate::lines::TextLine;
use crate::pieces;
use crate::ruling::Level;

const X_HEIGHT: f64 = 40.0;
const PEN: f64 = 6.0;
const BASE: f64 = 100.0;

fn line() -> TextLine {
    TextLine {
        pieces: Vec::new(),
        base: BASE,
        slope: 0.0,
        middle: 0.0,
        x_height: X_HEIGHT,
    }
}

/// Four letters: stems an x-height high, 30 pixels apart, from column 40.
fn stem(x: u32, y: u32) -> bool {
    (60..100).contains(&y) && [40, 70, 100, 130].iter().any(|s| (*s..s + 6).contains(&x))
}

/// What is drawn, piece by piece.
fn drawn(ink: impl Fn(u32, u32) -> bool) -> Vec<Piece> {
    let mask = GrayImage::from_fn(220, 160, |x, y| Luma([if ink(x, y) { 255 } else { 0 }]));
    pieces::label(&mask)
}

fn judged(piece: &Piece, printed: &[f64]) -> Option<Struck> {
    let (line, level) = (line(), Level::new(&[]));
    let along = Along {
        line: &line,
        level: &level,
        lean: 0.0,
    };
    crossed_out(piece, Reach::of(piece, along), along, PEN, printed)
}

fn word(pieces: &[Piece]) -> Option<Struck> {
    let (line, level) = (line(), Level::new(&[]));
    let along = Along {
        line: &line,
        level: &level,
        lean: 0.0,
    };
    let blobs: Vec<Blob> = pieces
        .iter()
        .map(|p| Blob {
            piece: p.clone(),
            dots: Vec::new(),
            reach: Reach::of(p, along),
            struck: None,
        })
        .collect();
    left_over(&blobs.iter().collect::<Vec<_>>(), along, PEN)
}

#[test]
fn one_stroke_through_a_word_is_a_strike() {
    let rising = |x: u32| 82 - x / 40;
    let struck = drawn(|x, y| {
        stem(x, y) || ((25..150).contains(&x) && (rising(x)..rising(x) + 6).contains(&y))
    });
    assert_eq!(struck.len(), 1);
    assert_eq!(judged(&struck[0], &[]), Some(Struck::Once));
}

#[test]
fn what_is_left_of_a_printed_line_is_no_strike() {
    let crossed = drawn(|x, y| stem(x, y) || ((40..136).contains(&x) && (78..84).contains(&y)));
    assert_eq!(judged(&crossed[0], &[81.0]), None);
    // The same ink where no line is printed is a strike.
    assert_eq!(judged(&crossed[0], &[]), Some(Struck::Once));
}

#[test]
fn a_bar_at_the_foot_of_letters_is_no_strike() {
    let joined = drawn(|x, y| stem(x, y) || ((40..136).contains(&x) && (94..100).contains(&y)));
    assert_eq!(judged(&joined[0], &[]), None);
}

#[test]
fn two_letters_with_a_stroke_that_sticks_out_are_struck() {
    let two = |x: u32, y: u32| stem(x, y) && x < 80;
    let struck = drawn(|x, y| two(x, y) || ((28..90).contains(&x) && (78..84).contains(&y)));
    assert_eq!(judged(&struck[0], &[]), Some(Struck::Once));
    let bridge = drawn(|x, y| two(x, y) || ((40..76).contains(&x) && (78..84).contains(&y)));
    assert_eq!(judged(&bridge[0], &[]), None, "an arch between two letters");
}

#[test]
fn many_strokes_over_a_word_are_a_scribble() {
    let zigzag = |x: u32, y: u32| {
        let turn = (x * 6) % 80;
        let row = if turn < 40 { 55 + turn } else { 135 - turn };
        (30..150).contains(&x) && y.abs_diff(row) < 10
    };
    let scribbled = drawn(|x, y| stem(x, y) || zigzag(x, y));
    let largest = scribbled.iter().max_by_key(|p| p.area()).unwrap();
    assert_eq!(judged(largest, &[]), Some(Struck::ManyTimes));
}

#[test]
fn a_clean_word_that_the_text_lacks_is_not_said_to_be_corrected() {
    assert_eq!(word(&drawn(stem)), None);
}

#[test]
fn brackets_round_a_word_are_seen_by_their_bow() {
    let bow = |x: u32, y: u32, at: f64, side: f64| {
        let t = (f64::from(y) - 82.0) / 37.0;
        let middle = at + side * 9.0 * (1.0 - t * t);
        (45..120).contains(&y) && (f64::from(x) - middle).abs() < 3.0
    };
    let pieces = drawn(|x, y| stem(x, y) || bow(x, y, 25.0, -1.0) || bow(x, y, 152.0, 1.0));
    let mut sorted = pieces;
    sorted.sort_by_key(|p| p.bounds().x0);
    assert_eq!(word(&sorted), Some(Struck::Bracketed));
}
