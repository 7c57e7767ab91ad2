//! Neighbouring letters → joins: whether a letter is joined to the next, and at which height.
//!
//! Judged are the pairs that the pupil's letter model joins, where the engine is sure of both letters.

use std::collections::BTreeMap;

use units::{Exit, JoinVerdict, LetterModel};

use crate::aspects::{Evidence, SURE};
use crate::letters::Glyph;
use crate::pieces::{Piece, Run};
use crate::words::{self, Along};

/// Less white between two letters, in x-heights, than where no join was drawn.
const BROKEN: f64 = 0.12;
/// A join from the top that falls below this share of the x-height dips.
const DIPS: f64 = 0.45;
/// Where a join from the top is looked at: from so many x-heights before the next letter …
const BEFORE: f64 = 0.35;
/// … to so many behind where that begins.
const BEHIND: f64 = 0.05;

/// A join from the bottom leaves high where it is a level stroke above this share of the x-height …
const HIGH: f64 = 0.85;
/// … that rises by no more than this …
const LEVEL: f64 = 0.2;
/// … over this length at least, all in x-heights. A diagonal join is steeper.
const LONG: f64 = 0.18;
/// The bar of this letter hides from above where its join leaves.
const BARRED: char = 't';
/// This letter begins at its top in many hands, long after the join has risen.
const TOP_STARTED: char = 'r';

/// Joins of one letter that tell how it is taught …
const LEAST_ALIKE: usize = 3;
/// … and the share of them that must agree.
const MOSTLY: f64 = 0.72;

/// A join judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Join {
    /// Index of the letter that it begins at.
    pub left: usize,
    pub verdict: JoinVerdict,
    /// The lowest place of the ink's upper side between the two, in x-heights above the baseline;
    /// `None` where no ink leads across.
    pub height: Option<f64>,
    /// Whether a person said so.
    pub by_hand: bool,
}

/// Judges every pair that is expected to be joined.
#[tracing::instrument(level = "trace", name = "joins", skip_all)]
pub(crate) fn joins(evidence: &Evidence<'_>) -> Vec<Join> {
    let letters = evidence.glyphs;
    let pairs = letters.windows(2).enumerate();
    let mut joins: Vec<Join> = pairs
        .filter_map(|(left, pair)| {
            let exit = expected(&pair[0], &pair[1], evidence.model)?;
            let (verdict, height) = judge(evidence, &pair[0], &pair[1], exit);
            Some(Join {
                left,
                verdict,
                height,
                by_hand: false,
            })
        })
        .collect();
    for join in as_taught(&joins, letters) {
        joins[join].verdict = JoinVerdict::Joined;
    }
    joins
}

/// Joins that lie otherwise than the model has them, of letters that nearly always do so: they are taught
/// so, as an r that leaves at the bottom.
fn as_taught(joins: &[Join], letters: &[Glyph]) -> Vec<usize> {
    let mut of_letter: BTreeMap<char, Vec<usize>> = BTreeMap::new();
    for (index, join) in joins.iter().enumerate().filter(|j| j.1.height.is_some()) {
        of_letter
            .entry(letters[join.left].ch.unwrap_or_default())
            .or_default()
            .push(index);
    }
    let wrong = |index: &usize| joins[*index].verdict == JoinVerdict::WrongHeight;
    let mostly = |all: &&Vec<usize>| {
        let share = all.iter().filter(|i| wrong(i)).count() as f64;
        all.len() >= LEAST_ALIKE && share > MOSTLY * all.len() as f64
    };
    let taught = of_letter.values().filter(mostly);
    taught.flatten().copied().filter(wrong).collect()
}

/// Where the first letter is left, if the two are to be joined and both are surely there.
fn expected(a: &Glyph, b: &Glyph, model: &LetterModel) -> Option<Exit> {
    let sure = a.confidence >= SURE && b.confidence >= SURE;
    let neighbours = a.line == b.line && a.word == b.word && b.place == a.place + 1;
    model.join(a.ch?, b.ch?).filter(|_| sure && neighbours)
}

fn judge(evidence: &Evidence<'_>, a: &Glyph, b: &Glyph, exit: Exit) -> (JoinVerdict, Option<f64>) {
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
    let wrong = match exit {
        Exit::Top => height.is_some_and(|h| h < DIPS),
        Exit::Bottom => {
            let told = a.ch != Some(BARRED) && b.ch != Some(TOP_STARTED);
            told && leaves_high(evidence, along, a, b)
        }
        Exit::None => false,
    };
    let verdict = if wrong {
        JoinVerdict::WrongHeight
    } else {
        JoinVerdict::Joined
    };
    (verdict, height)
}

/// Whether a level stroke at the top of the short letters leads from one letter to the next.
fn leaves_high(evidence: &Evidence<'_>, along: Along<'_>, a: &Glyph, b: &Glyph) -> bool {
    let unit = along.line.x_height;
    let thin = 1.9 * evidence.ink.pen;
    let first = b.reach.left - unit;
    let columns = (1.6 * unit).ceil().max(1.0) as usize;
    let mut upper = vec![None; columns];
    let mut thick = vec![0.0; columns];
    for piece in [&a.piece, &b.piece] {
        raise(&mut upper, piece, along, first);
        fill(&mut thick, piece, along, first);
    }
    let stroke = |k: &usize| thick[*k] > 0.0 && thick[*k] <= thin;
    // The thin stretch that the cut between the two letters lies in.
    let cut = (unit.round() as usize).min(columns - 1);
    let near = |k: &usize| k.abs_diff(cut) as f64 <= 0.15 * unit;
    let Some(middle) = (0..columns).filter(near).find(stroke) else {
        return false;
    };
    let start = (0..middle)
        .rev()
        .take_while(stroke)
        .last()
        .unwrap_or(middle);
    let end = (middle..columns)
        .take_while(stroke)
        .last()
        .unwrap_or(middle);
    let heights = upper[start..=end].iter().flatten().map(|h| h / unit);
    let (low, high) = heights.fold((f64::MAX, f64::MIN), |(l, h), v: f64| (l.min(v), h.max(v)));
    low > HIGH && high - low < LEVEL && (end - start) as f64 >= LONG * unit
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

/// Adds a piece's ink to the thickness of every column.
fn fill(thick: &mut [f64], piece: &Piece, along: Along<'_>, first: f64) {
    for run in &piece.runs {
        let (from, to) = span(run, along, first, thick.len());
        thick[from..to].iter_mut().for_each(|t| *t += 1.0);
    }
}

/// The columns from `first` on that a run covers once its lean is undone.
fn span(run: &Run, along: Along<'_>, first: f64, columns: usize) -> (usize, usize) {
    let height = along.height(f64::from(run.x0 + run.x1) / 2.0, f64::from(run.y) + 0.5);
    let start = (f64::from(run.x0) - along.lean * height - first).round();
    let length = f64::from(run.x1 - run.x0);
    let end = columns as f64;
    let (from, to) = (start.clamp(0.0, end), (start + length).clamp(0.0, end));
    (from as usize, to.max(from) as usize)
}

/// Raises every column to the height of a piece's ink there.
fn raise(upper: &mut [Option<f64>], piece: &Piece, along: Along<'_>, first: f64) {
    for run in &piece.runs {
        let height = along.height(f64::from(run.x0 + run.x1) / 2.0, f64::from(run.y) + 0.5);
        let (from, to) = span(run, along, first, upper.len());
        for high in &mut upper[from..to] {
            *high = Some(high.map_or(height, |before| before.max(height)));
        }
    }
}
