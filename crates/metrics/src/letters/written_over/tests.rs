//! Letters drawn once and written over, told apart.

use image::{GrayImage, Luma};
use units::LetterClass;

use super::*;
use crate::edges::Edges;
use crate::pieces;
use crate::words::Reach;

/// A letter c drawn as three strokes, with whatever is drawn over it.
fn letter(over: impl Fn(u32, u32) -> bool) -> Glyph {
    let c = |x: u32, y: u32| {
        let inside = (4..34).contains(&x) && (4..44).contains(&y);
        inside && (x < 10 || !(10..38).contains(&y))
    };
    let mask = GrayImage::from_fn(40, 50, |x, y| {
        Luma([if c(x, y) || over(x, y) { 255 } else { 0 }])
    });
    let piece = pieces::label(&mask).remove(0);
    Glyph {
        line: 0,
        word: 0,
        place: 0,
        ch: Some('c'),
        class: LetterClass::Short,
        confidence: 0.9,
        identity: 1.0,
        piece,
        dots: Vec::new(),
        reach: Reach {
            left: 4.0,
            right: 34.0,
            low: 0.0,
            high: 40.0,
        },
        edges: Edges {
            top: (20.0, 4.0),
            bottom: (20.0, 44.0),
            left: 4.0,
            right: 34.0,
        },
        touches_next: false,
        by_hand: false,
    }
}

/// A cross and a ring, as of two other letters.
fn strokes(x: u32, y: u32) -> bool {
    (4..34).contains(&x)
        && (4..44).contains(&y)
        && (x >= 28 || x.abs_diff(19) < 3 || y.abs_diff(24) < 3)
}

fn clean(n: usize) -> Vec<Glyph> {
    (0..n).map(|_| letter(|_, _| false)).collect()
}

#[test]
fn a_letter_with_another_drawn_over_it_is_found() {
    let mut glyphs = clean(8);
    glyphs.insert(3, letter(strokes));
    assert_eq!(written_over(&glyphs), vec![3]);
}

#[test]
fn letters_alike_are_not_written_over() {
    assert!(written_over(&clean(8)).is_empty());
}

#[test]
fn a_bowl_run_full_of_ink_is_not_written_over() {
    let ring = |x: u32, _: u32| (28..34).contains(&x);
    let closed = |x, y| (4..44).contains(&y) && ring(x, y);
    let mut glyphs: Vec<Glyph> = (0..8).map(|_| letter(closed)).collect();
    let full = |x: u32, y: u32| (4..34).contains(&x) && (4..44).contains(&y);
    glyphs.push(letter(full));
    assert!(written_over(&glyphs).is_empty());
}

#[test]
fn a_letter_that_is_not_sure_is_not_judged() {
    let mut glyphs = clean(8);
    glyphs.push(Glyph {
        confidence: 0.1,
        ..letter(strokes)
    });
    assert!(written_over(&glyphs).is_empty());
}
