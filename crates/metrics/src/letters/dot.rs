//! The dot of an i or j that hangs so low, or is so blurred, that it was taken for part of the letter.

use crate::pieces::{Piece, Run};
use crate::words::Along;

/// An i or j without its dot is lower than this, in x-heights.
const UNDOTTED: f64 = 1.25;
/// Heights between which the dot is parted from the body, in x-heights.
const BETWEEN: (f64, f64) = (0.7, 1.5);
/// A dot is no higher than this, in x-heights, however it is drawn.
const HIGHEST: f64 = 0.9;

/// Whether a letter has a dot.
pub(crate) fn dotted(c: char) -> bool {
    matches!(c, 'i' | 'j')
}

/// Parts an i or j from a dot in its own ink: where between body and dot the ink is least.
pub(crate) fn part(piece: &Piece, along: Along<'_>) -> Option<(Piece, Piece)> {
    let unit = along.line.x_height;
    let bounds = piece.bounds();
    let middle = f64::from(bounds.x0 + bounds.x1) / 2.0;
    let height = |y: u32| along.height(middle, f64::from(y) + 0.5) / unit;
    if height(bounds.y0) < UNDOTTED {
        return None;
    }
    let inked = |y: u32| -> u32 {
        let row = piece.runs.iter().filter(|run| run.y == y);
        row.map(|run| run.x1 - run.x0).sum()
    };
    let rows = (bounds.y0..bounds.y1).filter(|y| (BETWEEN.0..BETWEEN.1).contains(&height(*y)));
    let rows: Vec<(u32, u32)> = rows.map(|y| (inked(y), y)).collect();
    let least = rows.iter().map(|row| row.0).min()?;
    // Of several such rows the middle one.
    let thin: Vec<u32> = rows.iter().filter(|r| r.0 == least).map(|r| r.1).collect();
    let cut = thin[thin.len() / 2];
    let (dot, body): (Vec<_>, Vec<_>) = piece.runs.iter().partition(|run| run.y < cut);
    let of = |runs: Vec<&Run>| Piece {
        runs: runs.into_iter().copied().collect(),
    };
    let (dot, body) = (of(dot), of(body));
    let whole = !dot.runs.is_empty() && !body.runs.is_empty();
    (whole && dot.bounds().height() < HIGHEST * unit).then_some((body, dot))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::TextLine;
    use crate::ruling::Level;

    fn column(rows: std::ops::Range<u32>, x0: u32, x1: u32) -> Vec<Run> {
        rows.map(|y| Run { y, x0, x1 }).collect()
    }

    fn parted(runs: Vec<Run>) -> Option<(u64, u64)> {
        let line = TextLine {
            pieces: Vec::new(),
            base: 100.0,
            slope: 0.0,
            middle: 0.0,
            x_height: 20.0,
        };
        let level = Level::new(&[]);
        let along = Along {
            line: &line,
            level: &level,
            lean: 0.0,
        };
        part(&Piece { runs }, along).map(|(body, dot)| (body.area(), dot.area()))
    }

    #[test]
    fn a_dot_is_parted_at_the_white_below_it() {
        let mut runs = column(72..77, 10, 15);
        runs.extend(column(82..100, 11, 15));
        assert_eq!(parted(runs), Some((72, 25)));
    }

    #[test]
    fn a_dot_that_blur_ties_to_its_letter_is_parted_at_the_neck() {
        let mut runs = column(70..77, 10, 16);
        runs.extend(column(77..80, 12, 14));
        runs.extend(column(80..100, 11, 15));
        let (body, dot) = parted(runs).expect("a dot");
        assert!(
            (80..=86).contains(&body) && (42..=48).contains(&dot),
            "{body} {dot}"
        );
    }

    #[test]
    fn a_letter_without_a_dot_stays_whole() {
        assert_eq!(parted(column(80..100, 11, 15)), None);
    }
}
