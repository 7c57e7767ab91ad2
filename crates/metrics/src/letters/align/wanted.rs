//! What is expected of a letter's ink, and how far what is seen is from it.

use units::LetterClass;

use crate::letters::Hand;
use crate::letters::dot::dotted;
use crate::maths::{ln, square};
use crate::text::{Shape, class_of};

/// A letter that falls short of what is expected of it is a finding, and no reason to doubt which letter
/// it is where its neighbours are sure: a tall one no taller than the short ones, a tail too short, a t or f
/// without its bar, a bowl that closes too high. It may be so much lower than the short letters, in x-heights …
const FALLS_SHORT: f64 = 0.2;
/// … and a bowl less high than this.
const MOST_ROUND: f64 = 2.0;

/// The reach of a run of atoms, in x-heights.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    pub width: f64,
    /// Natural logarithm of the width.
    pub log_width: f64,
    pub high: f64,
    pub low: f64,
    pub dots: usize,
    pub held: f64,
}

/// A letter of the text, and what is expected of its ink.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    tall: bool,
    tail: bool,
    barred: bool,
    /// Has a bowl within the short zone.
    round: bool,
    dotted: bool,
    pub shape: Shape,
    log_width: f64,
}

impl Wanted {
    pub fn new(c: char, hand: Hand<'_>) -> Self {
        let shape = hand.shapes.of(c);
        Self {
            tall: class_of(c) == LetterClass::Tall,
            tail: class_of(c) == LetterClass::Tail,
            barred: matches!(c, 't' | 'f'),
            round: matches!(c, 'a' | 'd' | 'g' | 'p' | 'q'),
            dotted: dotted(c),
            shape,
            log_width: ln(shape.width),
        }
    }

    /// What it costs to take this ink for the letter.
    pub fn misfit(&self, seen: Extent) -> f64 {
        let penalty = |off: f64, slack: f64| 0.5 * square(off / slack).min(14.0);
        let mut cost = penalty(seen.log_width - self.log_width, 0.3);
        // Too low for a tall letter or too high for a short one tells more than the exact reach.
        let high = seen.high - self.shape.high;
        let slack = if self.tall && high > 0.0 { 1.5 } else { 1.0 } * self.shape.slack;
        cost += penalty(high, slack);
        cost += penalty(seen.low - self.shape.low, self.shape.slack);
        cost += match (self.dotted, seen.dots) {
            (true, 0) => 0.6,
            (true, 1) => -0.4,
            (true, n) => n as f64,
            (false, n) => 1.2 * n as f64,
        };
        cost + seen.held
    }

    /// The misfit of a letter that may fall short, in x-heights.
    pub fn misfit_falling_short(&self, seen: Extent) -> f64 {
        let width = if self.barred {
            self.log_width.min(seen.log_width)
        } else {
            self.log_width
        };
        let high = match seen.high {
            h if self.round && (1.0..MOST_ROUND).contains(&h) => h,
            h if self.tall && h > 1.0 - FALLS_SHORT => self.shape.high.min(h),
            _ => self.shape.high,
        };
        let low = match seen.low {
            l if self.tail && l > -FALLS_SHORT => self.shape.low.min(l),
            _ => self.shape.low,
        };
        let shape = Shape {
            high,
            low,
            ..self.shape
        };
        let allowed = Self {
            shape,
            log_width: width,
            ..*self
        };
        allowed.misfit(seen)
    }
}
