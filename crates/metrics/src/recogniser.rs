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
    #[cfg(test)]
    pub(crate) fn best(&self) -> (Option<char>, f64) {
        let first = (None, f64::MIN);
        self.all().fold(
            first,
            |best, next| if next.1 > best.1 { next } else { best },
        )
    }

    /// What it reads as most probably beside the letter meant and those of its shape, and how probable
    /// that is.
    pub(crate) fn other(&self, meant: char) -> (Option<char>, f64) {
        let own = alike(meant);
        let others = self
            .all()
            .filter(|(c, _)| !c.is_some_and(|c| c == meant || own.contains(&(c as u8))));
        others.fold(
            (None, f64::MIN),
            |best, next| {
                if next.1 > best.1 { next } else { best }
            },
        )
    }

    /// Probability that it reads as the letter meant, or as one of the same shape; `None` for what the
    /// recogniser does not know.
    pub(crate) fn as_meant(&self, meant: char) -> Option<f64> {
        let meant = u8::try_from(meant).ok()?;
        let known = CLASSES.contains(&meant);
        let alike = alike(char::from(meant));
        let own = |c: &u8| *c == meant || alike.contains(c);
        let reads = CLASSES.iter().zip(self.probabilities);
        let sum: f64 = reads.filter(|(c, _)| own(c)).map(|(_, p)| p).sum();
        known.then_some(sum.min(1.0))
    }
}

/// Letters of one letter's shape, itself among them; empty where no other has it.
fn alike(meant: char) -> &'static [u8] {
    let group = ALIKE.iter().find(|group| group.contains(&(meant as u8)));
    group.map_or(&[], |group| *group)
}

/// What the recogniser is shown of a letter.
pub(crate) struct Seen(crop::Crop);

impl Seen {
    /// One letter's ink, dots included. `None` where none of it lies where a letter would, or the
    /// x-height is no readable one.
    pub(crate) fn of(ink: &Ink, pieces: &[&Piece], place: Place) -> Option<Self> {
        crop::crop(ink, pieces, place).map(Self)
    }

    /// As a mirror shows it, upright.
    pub(crate) fn mirrored(&self) -> Self {
        Self(crop::mirrored(&self.0))
    }

    /// With so many columns of its ink left out at either side; `None` where none is left.
    pub(crate) fn trimmed(&self, left: usize, right: usize) -> Option<Self> {
        crop::trimmed(&self.0, left, right).map(Self)
    }

    /// Reads it.
    #[tracing::instrument(level = "trace", name = "recognise", skip_all)]
    pub(crate) fn reads(&self) -> Reads {
        of_crop(&self.0)
    }
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
fn recognise(ink: &Ink, piece: &Piece, place: Place) -> Option<Reads> {
    Seen::of(ink, &[piece], place).map(|seen| seen.reads())
}

#[cfg(test)]
mod of_crops;
#[cfg(test)]
mod tests;
