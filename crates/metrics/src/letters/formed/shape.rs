//! What a letter's shape reads as, by itself and in a mirror.

use units::{Ratio, Reads};

use super::Of;
use crate::pieces::Piece;
use crate::recogniser::{Place, Seen};
use crate::stats::round;

/// Letters that are written the wrong way round so often that each is looked at in a mirror.
const MIRRORED: &str = "bdpqsz";
/// A letter may be told to read as another where it reads as meant with no more probability than this …
const NOT_AS_MEANT: f64 = 0.1;
/// … and as that other with this at least.
const AS_OTHER: f64 = 0.7;
/// What one stroke down, with or without a hook, reads as.
const STROKES: &str = "cijlrtIJL1";
/// Columns that are left out at the left and at the right, a twelfth of the x-height each: a joining
/// stroke that stays on a letter passes for a part of it.
const TRIMS: [(usize, usize); 8] = [
    (0, 2),
    (2, 0),
    (2, 2),
    (0, 4),
    (4, 0),
    (2, 4),
    (4, 2),
    (4, 4),
];

/// A shape as read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    pub reads: Reads,
    /// Probability that its mirror image reads as meant; 0 where none was looked at.
    mirrored: f64,
}

impl Shape {
    /// Probability that it is the letter meant, turned round; `None` where it is not.
    pub(super) fn reversed(&self) -> Option<f64> {
        let reversed = self.mirrored >= AS_OTHER && self.reads.as_meant.0 <= NOT_AS_MEANT;
        reversed.then_some(self.mirrored)
    }

    /// Whether it may be one stroke down, without dot and bar.
    pub(super) fn may_be_a_stroke(&self) -> bool {
        let other = self.reads.other.filter(|_| self.reads_as_other().is_some());
        other.is_none_or(|c| STROKES.contains(c))
    }

    /// Probability that it reads as another letter; `None` where it may not be said.
    pub(super) fn reads_as_other(&self) -> Option<f64> {
        let reads = self.reads;
        let other = reads.other.is_some() && reads.other_share.0 >= AS_OTHER;
        (other && reads.as_meant.0 <= NOT_AS_MEANT).then_some(reads.other_share.0)
    }
}

/// Reads a letter. Where letters are joined, the reading most in the writer's favour holds of those with
/// and without what may be a joining stroke.
pub(super) fn look(of: Of<'_>) -> Option<Shape> {
    let glyph = of.glyph;
    let along = of.evidence.along(glyph.line);
    let pieces: Vec<&Piece> = core::iter::once(&glyph.piece).chain(&glyph.dots).collect();
    let seen = Seen::of(of.evidence.ink, &pieces, Place::of(&glyph.piece, along))?;
    let mut reads = seen.reads();
    let mut as_meant = reads.as_meant(of.ch)?;
    if of.evidence.joined() && as_meant <= 0.5 {
        for trimmed in TRIMS.iter().filter_map(|(l, r)| seen.trimmed(*l, *r)) {
            let again = trimmed.reads();
            if let Some(better) = again.as_meant(of.ch).filter(|p| *p > as_meant) {
                (reads, as_meant) = (again, better);
            }
            if as_meant > 0.5 {
                break;
            }
        }
    }
    let doubted = as_meant <= NOT_AS_MEANT && MIRRORED.contains(of.ch);
    let mirrored = doubted.then(|| seen.mirrored().reads().as_meant(of.ch));
    let (other, share) = reads.other(of.ch);
    Some(Shape {
        reads: Reads {
            as_meant: Ratio(round(as_meant, 2)),
            other,
            other_share: Ratio(round(share, 2)),
        },
        mirrored: mirrored.flatten().unwrap_or(0.0),
    })
}
