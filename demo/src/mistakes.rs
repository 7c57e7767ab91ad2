//! Slips of the pen, and how the writer puts them right.

use units::{BoxMm, CorrectionKind};

use crate::hand::Hand;
use crate::outline::{Outline, Point, capsule};
use crate::rng::Rng;

/// What becomes of a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It stands.
    Kept,
    /// It is taken back.
    Struck(CorrectionKind),
    /// One letter is written over another.
    WrittenOver {
        /// Index of the letter in the word.
        at: usize,
        /// What was written there first.
        first: char,
    },
}

/// A word to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// Its text.
    pub text: String,
    /// What becomes of it.
    pub fate: Fate,
}

/// The words of a paragraph with this hand's slips among them.
pub fn plan(paragraph: &str, hand: &Hand, rng: &mut Rng) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut slips = 0;
    for word in paragraph.split_whitespace() {
        let mut fate = Fate::Kept;
        let long = word
            .chars()
            .filter(|letter| letter.is_ascii_lowercase())
            .count()
            >= 3;
        if long && !hand.kinds.is_empty() && rng.chance(hand.corrections) {
            // Each kind in turn, so that a page with few slips still shows them all.
            slips += 1;
            match hand.kinds[slips % hand.kinds.len()] {
                CorrectionKind::WrittenOver => fate = written_over(word, rng),
                kind => tokens.push(Token {
                    text: misspelt(word, rng),
                    fate: Fate::Struck(kind),
                }),
            }
        }
        tokens.push(Token {
            text: word.to_owned(),
            fate,
        });
    }
    tokens
}

fn written_over(word: &str, rng: &mut Rng) -> Fate {
    let places: Vec<usize> = word
        .chars()
        .enumerate()
        .filter(|(_, letter)| "aeosnurdbh".contains(*letter))
        .map(|(index, _)| index)
        .collect();
    if places.is_empty() {
        return Fate::Kept;
    }
    let at = places[rng.below(places.len())];
    let meant = word.chars().nth(at).unwrap_or('a');
    let others: Vec<char> = "aeosnucdb"
        .chars()
        .filter(|other| *other != meant)
        .collect();
    Fate::WrittenOver {
        at,
        first: others[rng.below(others.len())],
    }
}

/// The word with two letters swapped, one left out, or only its beginning.
fn misspelt(word: &str, rng: &mut Rng) -> String {
    let mut letters: Vec<char> = word
        .chars()
        .filter(|letter| letter.is_alphabetic())
        .collect();
    let at = 1 + rng.below(letters.len() - 2);
    match rng.below(3) {
        0 => letters.swap(at, at + 1),
        1 => drop(letters.remove(at)),
        _ => letters.truncate(letters.len().div_ceil(2).max(2)),
    }
    letters.into_iter().collect()
}

/// A chain of thick lines through points.
fn stroke_through(points: &[Point], width: f64) -> Outline {
    points
        .windows(2)
        .map(|pair| capsule(pair[0], pair[1], width))
        .collect()
}

/// One line through the word.
pub fn strike(word: BoxMm, base: f64, height: f64, width: f64, rng: &mut Rng) -> Outline {
    let (left, right) = (word.x0.0 - 0.25 * height, word.x1.0 + 0.25 * height);
    let start = base - height * rng.between(0.4, 0.6);
    let tilt = height * rng.between(-0.15, 0.15);
    let points: Vec<Point> = (0..=6)
        .map(|step| {
            let t = f64::from(step) / 6.0;
            Point {
                x: left + (right - left) * t,
                y: start + tilt * t + height * 0.03 * rng.normal(),
            }
        })
        .collect();
    stroke_through(&points, width)
}

/// Many strokes to and fro over the word.
pub fn scribble(word: BoxMm, base: f64, height: f64, width: f64, rng: &mut Rng) -> Outline {
    let (left, right) = (word.x0.0 - 0.1 * height, word.x1.0 + 0.1 * height);
    let turns = ((right - left) / (0.38 * height)).clamp(6.0, 40.0) as usize;
    let points: Vec<Point> = (0..=turns)
        .map(|turn| {
            let t = turn as f64 / turns as f64;
            let top = turn % 2 == 0;
            Point {
                x: left + (right - left) * t + height * 0.1 * rng.normal(),
                y: base - if top { 1.1 } else { -0.05 } * height + 0.1 * height * rng.normal(),
            }
        })
        .collect();
    let mut outline = stroke_through(&points, width);
    outline.extend(strike(word, base, height, width, rng));
    outline.extend(strike(word, base - 0.2 * height, height, width, rng));
    outline
}

/// A bracket on either side.
pub fn brackets(word: BoxMm, base: f64, height: f64, width: f64, rng: &mut Rng) -> Outline {
    let mut bracket = |x: f64, bulge: f64| {
        let (top, bottom) = (base - 1.75 * height, base + 0.35 * height);
        let lean = 0.06 * height * rng.normal();
        let points: Vec<Point> = (0..=10)
            .map(|step| {
                let t = f64::from(step) / 10.0;
                Point {
                    x: x + bulge * 4.0 * t * (1.0 - t) + lean * (1.0 - 2.0 * t),
                    y: top + (bottom - top) * t,
                }
            })
            .collect();
        stroke_through(&points, width)
    };
    let mut outline = bracket(word.x0.0 - 0.12 * height, -0.26 * height);
    outline.extend(bracket(word.x1.0 + 0.12 * height, 0.26 * height));
    outline
}
