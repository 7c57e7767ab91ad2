//! Neighbouring letters → joins: whether a letter is joined to the next, and at which height.
//!
//! Which pairs are joined differs by school. Judged are pairs whose first letter leaves at the bottom
//! or at the top in most models and whose second takes a join in most (common practice, no source).

use units::JoinVerdict;

use crate::aspects::{Evidence, SURE};
use crate::letters::Glyph;
use crate::pieces::Piece;
use crate::words::{self, Along};

/// Letters that leave at the bottom, towards the next by a diagonal.
const BOTTOM: &str = "acdehiklmntu";
/// Letters that leave at the top, level.
const TOP: &str = "orvw";
/// Letters that most models do not join to.
const UNJOINED: &str = "xz";
/// Less white between two letters, in x-heights, than where no join was drawn.
const BROKEN: f64 = 0.12;
/// A join from the top that falls below this share of the x-height dips.
const DIPS: f64 = 0.45;
/// Where a join from the top is looked at: from so many x-heights before the next letter …
const BEFORE: f64 = 0.35;
/// … to so many behind where that begins.
const BEHIND: f64 = 0.05;

/// Joins of one letter that tell how it is taught …
const LEAST_ALIKE: usize = 3;
/// … and the share of them that must agree.
const MOSTLY: f64 = 0.6;

/// A join judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Join {
    /// Index of the letter that it begins at.
    pub left: usize,
    pub verdict: JoinVerdict,
    /// The lowest place of the ink's upper side between the two, in x-heights above the baseline;
    /// `None` where no ink leads across.
    pub height: Option<f64>,
}

/// Judges every pair that is expected to be joined.
pub(crate) fn joins(evidence: &Evidence<'_>) -> Vec<Join> {
    let letters = evidence.glyphs;
    let mut joins: Vec<Join> = letters
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| expected(&pair[0], &pair[1]))
        .map(|(left, pair)| {
            let (verdict, height) = judge(evidence, &pair[0], &pair[1]);
            Join {
                left,
                verdict,
                height,
            }
        })
        .collect();
    // A letter that nearly always goes by way of the baseline is taught so: in some models an r
    // leaves at the bottom.
    for c in TOP.chars() {
        let (dips, joined) = joins
            .iter()
            .filter(|join| letters[join.left].ch == Some(c) && join.height.is_some())
            .fold((0, 0), |(dips, all), join| {
                let dips_here = join.verdict == JoinVerdict::WrongHeight;
                (dips + usize::from(dips_here), all + 1)
            });
        if joined >= LEAST_ALIKE && dips as f64 > MOSTLY * joined as f64 {
            for join in &mut joins {
                if letters[join.left].ch == Some(c) && join.height.is_some() {
                    join.verdict = JoinVerdict::Joined;
                }
            }
        }
    }
    joins
}

fn expected(a: &Glyph, b: &Glyph) -> bool {
    let leaves = |c: char| BOTTOM.contains(c) || TOP.contains(c);
    let takes = |c: char| c.is_ascii_lowercase() && !UNJOINED.contains(c);
    let sure = a.confidence >= SURE && b.confidence >= SURE;
    sure && a.line == b.line
        && a.word == b.word
        && b.place == a.place + 1
        && a.ch.is_some_and(leaves)
        && b.ch.is_some_and(takes)
}

fn judge(evidence: &Evidence<'_>, a: &Glyph, b: &Glyph) -> (JoinVerdict, Option<f64>) {
    let along = evidence.along(a.line);
    if !a.touches_next {
        // A join drawn faintly breaks in the mask; where none was drawn there is more white.
        let white = words::white(&a.piece, &b.piece, along);
        let broken = white < BROKEN * along.line.x_height;
        let verdict = if broken {
            JoinVerdict::Joined
        } else {
            JoinVerdict::Missing
        };
        return (verdict, None);
    }
    let height = lowest(along, a, b);
    let from_top = a.ch.is_some_and(|c| TOP.contains(c));
    let dips = from_top && height.is_some_and(|h| h < DIPS);
    let verdict = if dips {
        JoinVerdict::WrongHeight
    } else {
        JoinVerdict::Joined
    };
    (verdict, height)
}

/// The lowest place of the ink's upper side about where the second letter begins.
fn lowest(along: Along<'_>, a: &Glyph, b: &Glyph) -> Option<f64> {
    let unit = along.line.x_height;
    let first = b.reach.left - BEFORE * unit;
    let columns = ((BEFORE + BEHIND) * unit).ceil().max(1.0) as usize;
    let mut upper = vec![None; columns];
    for piece in [&a.piece, &b.piece] {
        raise(&mut upper, piece, along, first);
    }
    upper
        .into_iter()
        .flatten()
        .min_by(f64::total_cmp)
        .map(|height| height / unit)
}

/// Raises every column to the height of a piece's ink there.
fn raise(upper: &mut [Option<f64>], piece: &Piece, along: Along<'_>, first: f64) {
    for run in &piece.runs {
        let height = along.height(f64::from(run.x0 + run.x1) / 2.0, f64::from(run.y) + 0.5);
        let start = (f64::from(run.x0) - along.lean * height - first).round();
        let length = f64::from(run.x1 - run.x0);
        let end = upper.len() as f64;
        let (from, to) = (start.clamp(0.0, end), (start + length).min(end));
        for high in &mut upper[from as usize..to.max(from) as usize] {
            *high = Some(high.map_or(height, |before| before.max(height)));
        }
    }
}
