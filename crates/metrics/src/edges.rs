//! Where a letter's ink begins and ends, finer than a pixel: the place at which the grey passes
//! half-way from paper to ink.

use crate::ink::{Ink, PAPER};
use crate::pieces::Piece;

/// The outermost places of a piece of ink, in pixels of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edges {
    /// Highest point.
    pub top: (f64, f64),
    /// Lowest point.
    pub bottom: (f64, f64),
    /// Leftmost column.
    pub left: f64,
    /// Rightmost column.
    pub right: f64,
}

/// The grey half-way between paper and the piece's own ink.
pub(crate) fn half_way(ink: &Ink, piece: &Piece) -> f64 {
    let mut counts = [0u32; 256];
    for run in &piece.runs {
        for x in run.x0..run.x1 {
            counts[ink.grey.get_pixel(x, run.y)[0] as usize] += 1;
        }
    }
    let total: u32 = counts.iter().sum();
    let mut below = 0;
    let dark = counts.iter().position(|c| {
        below += c;
        below * 4 >= total
    });
    let dark = dark.map_or(ink.level, |d| d as f64);
    (f64::from(PAPER) + dark.min(0.9 * f64::from(PAPER))) / 2.0
}

/// Reads all four edges of a piece. Its own neighbours do not disturb: only rows and columns next
/// to the piece's outermost pixels are looked at.
pub(crate) fn read(ink: &Ink, piece: &Piece) -> Edges {
    let b = piece.bounds();
    let half = half_way(ink, piece);
    let near = 3;
    let mut edges = Edges {
        top: ((b.x0 + b.x1) as f64 / 2.0, f64::MAX),
        bottom: ((b.x0 + b.x1) as f64 / 2.0, f64::MIN),
        left: f64::MAX,
        right: f64::MIN,
    };
    for run in &piece.runs {
        if run.y < b.y0 + near {
            for x in run.x0..run.x1 {
                let y = pass(
                    |y| across(ink, i64::from(x), y),
                    i64::from(b.y0) - 3,
                    1,
                    half,
                );
                if y < edges.top.1 {
                    edges.top = (f64::from(x) + 0.5, y);
                }
            }
        }
        if run.y + near >= b.y1 {
            for x in run.x0..run.x1 {
                let y = pass(
                    |y| across(ink, i64::from(x), y),
                    i64::from(b.y1) + 2,
                    -1,
                    half,
                );
                if y > edges.bottom.1 {
                    edges.bottom = (f64::from(x) + 0.5, y);
                }
            }
        }
        if run.x0 < b.x0 + near {
            let x = pass(
                |x| down(ink, x, i64::from(run.y)),
                i64::from(b.x0) - 3,
                1,
                half,
            );
            edges.left = edges.left.min(x);
        }
        if run.x1 + near > b.x1 {
            let x = pass(
                |x| down(ink, x, i64::from(run.y)),
                i64::from(b.x1) + 2,
                -1,
                half,
            );
            edges.right = edges.right.max(x);
        }
    }
    edges.top.1 -= sunk(ink, piece, edges.top, b.y0 + DEPTH);
    edges.bottom.1 += sunk(ink, piece, edges.bottom, b.y1.saturating_sub(DEPTH + 1));
    let swell = swell(ink);
    edges.top.1 += swell;
    edges.bottom.1 -= swell;
    edges.left += swell;
    edges.right -= swell;
    (edges.top.1, edges.bottom.1) = apart((edges.top.1, edges.bottom.1), (b.y0, b.y1));
    (edges.left, edges.right) = apart((edges.left, edges.right), (b.x0, b.x1));
    edges
}

/// Two opposite edges as far as they can be trusted. An edge is never far from the mask's own: what
/// is farther belongs to a neighbour. Where both come to lie on the wrong side of one another, the
/// grey has none of them (ink hardly darker than its paper): the mask's are left.
fn apart(read: (f64, f64), mask: (u32, u32)) -> (f64, f64) {
    let mask = (f64::from(mask.0), f64::from(mask.1));
    let keep = |value: f64, mask: f64| value.clamp(mask - 2.5, mask + 2.5);
    let kept = (keep(read.0, mask.0), keep(read.1, mask.1));
    if kept.0 < kept.1 { kept } else { mask }
}

/// How far outside the ink the half-way grey lies, in pixels. Blur that is wide beside the stroke takes
/// from its darkest grey too; half-way to that is passed before the edge. The figures are those of
/// strokes four to eight pixels wide under known blur.
pub(crate) fn swell(ink: &Ink) -> f64 {
    (ink.blur - 0.95).clamp(0.0, 0.8)
}

/// Left and right edge of the ink from column `x0` to `x1` of a row.
pub(crate) fn span(ink: &Ink, half: f64, y: u32, x0: u32, x1: u32) -> (f64, f64) {
    let grey = |x| pixel(ink, x, i64::from(y));
    let left = pass(grey, i64::from(x0) - 3, 1, half);
    let right = pass(grey, i64::from(x1) + 2, -1, half);
    let keep = |value: f64, mask: u32| value.clamp(f64::from(mask) - 1.5, f64::from(mask) + 1.5);
    (keep(left, x0), keep(right, x1))
}

/// Rows below the outermost one in which the width of a stroke's end is read.
const DEPTH: u32 = 2;

/// How far blur has drawn a rounded end inwards, in pixels. Blur of variance v moves the half-way
/// edge of a disc of radius r by v / 2r towards its middle.
fn sunk(ink: &Ink, piece: &Piece, end: (f64, f64), row: u32) -> f64 {
    let depth = (f64::from(row) + 0.5 - end.1).abs();
    let nearest = piece
        .runs
        .iter()
        .filter(|r| r.y == row)
        .map(|r| {
            let away = (f64::from(r.x0) - end.0).max(end.0 - f64::from(r.x1));
            (away, f64::from(r.x1 - r.x0))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, chord)) = nearest.filter(|_| depth > 0.5) else {
        return 0.0;
    };
    let radius = ((chord * chord / 4.0 + depth * depth) / (2.0 * depth)).max(ink.pen / 2.0);
    // Half a pixel squared more along the row: `across` softens by that much.
    // Not every stroke ends round: of a square end blur takes nothing.
    const ROUND: f64 = 0.6;
    (ROUND * (ink.blur * ink.blur + 0.5) / (2.0 * radius)).min(0.8)
}

/// Walks from outside until the grey passes `half`, and gives the place between pixel centres.
fn pass(grey: impl Fn(i64) -> f64, start: i64, step: i64, half: f64) -> f64 {
    let mut before = grey(start);
    // Ink of a neighbour at the start: walk out of it first.
    let mut at = start;
    for _ in 0..10 {
        let next = at + step;
        let value = grey(next);
        if before > half && value <= half {
            let t = (before - half) / (before - value).max(1e-9);
            return at as f64 + 0.5 + step as f64 * t;
        }
        (before, at) = (value, next);
    }
    if step > 0 { f64::MAX } else { f64::MIN }
}

fn pixel(ink: &Ink, x: i64, y: i64) -> f64 {
    let x = x.clamp(0, i64::from(ink.grey.width()) - 1) as u32;
    let y = y.clamp(0, i64::from(ink.grey.height()) - 1) as u32;
    f64::from(ink.grey.get_pixel(x, y)[0])
}

/// A pixel softened along its row, so that grain does not count as an edge.
fn across(ink: &Ink, x: i64, y: i64) -> f64 {
    (pixel(ink, x - 1, y) + 2.0 * pixel(ink, x, y) + pixel(ink, x + 1, y)) / 4.0
}

/// A pixel softened along its column.
fn down(ink: &Ink, x: i64, y: i64) -> f64 {
    (pixel(ink, x, y - 1) + 2.0 * pixel(ink, x, y) + pixel(ink, x, y + 1)) / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{GrayImage, Luma};

    /// A bar whose edges lie between pixels, drawn by the share of each pixel that it covers.
    fn bar(top: f64, bottom: f64) -> GrayImage {
        GrayImage::from_fn(60, 60, |x, y| {
            let covered = (bottom.min(f64::from(y) + 1.0) - top.max(f64::from(y))).clamp(0.0, 1.0);
            let here = if (20..40).contains(&x) { covered } else { 0.0 };
            Luma([(230.0 - 170.0 * here).round() as u8])
        })
    }

    #[test]
    fn edges_are_read_between_pixels() {
        for part in [0.0, 0.2, 0.5, 0.8] {
            let (top, bottom) = (15.0 + part, 33.3 + part);
            let grey = bar(top, bottom);
            let (ink, piece) = Ink::drawn(grey, 180, (60.0, 5.0, 0.3));
            let edges = read(&ink, &piece);
            assert!((edges.top.1 - top).abs() < 0.15, "{edges:?} for {top}");
            assert!(
                (edges.bottom.1 - bottom).abs() < 0.15,
                "{edges:?} for {bottom}"
            );
            assert!((edges.left - 20.0).abs() < 0.1 && (edges.right - 40.0).abs() < 0.1);
        }
    }

    #[test]
    fn ink_as_light_as_its_paper_keeps_the_height_of_its_mask() {
        let grey = GrayImage::from_pixel(60, 60, Luma([PAPER]));
        let (mut ink, _) = Ink::drawn(bar(20.0, 21.0), 180, (60.0, 5.0, 0.3));
        ink.grey = grey;
        let bar = Piece {
            runs: vec![crate::pieces::Run {
                y: 20,
                x0: 20,
                x1: 40,
            }],
        };
        let edges = read(&ink, &bar);
        assert_eq!((edges.top.1, edges.bottom.1), (20.0, 21.0));
        assert!(edges.left < edges.right);
    }
}
