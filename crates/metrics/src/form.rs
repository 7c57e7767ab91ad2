//! A letter's ink → what it reads as: the probability of every letter and figure, by a small
//! recogniser of shapes.
//!
//! `crates/metrics/model/README.md` says what it was trained on, how often it is right and where it
//! fails. It sees one shape at a time and knows no word: a letter that it reads as another is a place
//! to look at, not a mistake that was made.

use crate::ink::Ink;
use crate::maths;
use crate::pieces::Piece;
use crate::words::Along;

mod crop;
mod net;
mod weights;

/// What the recogniser tells apart, in the order of its outputs; one more follows for ink that is no
/// letter.
pub(crate) const CLASSES: &[u8; 62] =
    b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789";

/// Outputs of the recogniser.
pub(crate) const OUTPUTS: usize = CLASSES.len() + 1;

/// Letters that one shape stands for, whatever its size or place says: read as one of them, a letter
/// reads as each.
const ALIKE: [&[u8]; 11] = [
    b"cC", b"kK", b"lI1", b"oO0", b"pP", b"sS", b"uU", b"vV", b"wW", b"xX", b"zZ",
];

/// Where a letter stands on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place {
    /// Row of the baseline under the letter, pixels from the sheet's top.
    pub baseline: f64,
    /// Height of the short letters, pixels.
    pub x_height: f64,
    /// Columns to the right for each row up, of the page's usual downstroke.
    pub lean: f64,
}

impl Place {
    /// Where a piece of a line's ink stands.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "no stage of a reading asks for it yet")
    )]
    pub(crate) fn of(piece: &Piece, along: Along<'_>) -> Self {
        let bounds = piece.bounds();
        let x = (f64::from(bounds.x0) + f64::from(bounds.x1)) / 2.0;
        let foot = f64::from(bounds.y1);
        Self {
            baseline: foot + along.height(x, foot),
            x_height: along.line.x_height,
            lean: along.lean,
        }
    }
}

/// What a letter reads as.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reads {
    probabilities: [f64; OUTPUTS],
}

impl Reads {
    /// Probability of each letter and figure; `None` stands for ink that is no letter, or more than
    /// one. They sum to 1.
    pub(crate) fn all(&self) -> impl Iterator<Item = (Option<char>, f64)> {
        let chars = CLASSES.iter().map(|c| Some(char::from(*c)));
        chars.chain([None]).zip(self.probabilities)
    }

    /// What it reads as most probably, and how probable that is.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "no stage of a reading asks for it yet")
    )]
    pub(crate) fn best(&self) -> (Option<char>, f64) {
        let first = (None, f64::MIN);
        self.all().fold(
            first,
            |best, next| if next.1 > best.1 { next } else { best },
        )
    }

    /// Probability that it reads as the letter meant, or as one of the same shape; `None` for what the
    /// recogniser does not know.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "no stage of a reading asks for it yet")
    )]
    pub(crate) fn as_meant(&self, meant: char) -> Option<f64> {
        let meant = u8::try_from(meant).ok()?;
        let at = |c: &u8| CLASSES.iter().position(|known| known == c);
        let own = [meant];
        let alike = ALIKE.iter().find(|group| group.contains(&meant));
        let places: Vec<usize> = alike
            .map_or(&own[..], |g| *g)
            .iter()
            .filter_map(at)
            .collect();
        let sum = places.iter().map(|&k| self.probabilities[k]).sum::<f64>();
        (!places.is_empty()).then_some(sum.min(1.0))
    }
}

/// Reads one letter's ink, dots included. `None` where none of it lies where a letter would, or the
/// x-height is no readable one.
pub(crate) fn recognise(ink: &Ink, piece: &Piece, place: Place) -> Option<Reads> {
    crop::crop(ink, piece, place).map(|crop| of_crop(&crop))
}

fn of_crop(crop: &crop::Crop) -> Reads {
    let logits = net::logits(crop).map(f64::from);
    let most = logits.iter().copied().fold(f64::MIN, f64::max);
    let weights = logits.map(|z| maths::exp(z - most));
    let sum: f64 = weights.iter().sum();
    Reads {
        probabilities: weights.map(|w| w / sum),
    }
}

#[cfg(test)]
mod of_crops;
#[cfg(test)]
mod tests;
