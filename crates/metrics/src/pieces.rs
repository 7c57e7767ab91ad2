//! Ink mask → pieces: patches of touching ink, as runs of pixels.

use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};

/// Pixels of one row, `x0` up to but not including `x1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Run {
    pub y: u32,
    pub x0: u32,
    pub x1: u32,
}

/// A patch of ink. Runs are in reading order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Piece {
    pub runs: Vec<Run>,
}

/// The box round some pixels, `x1` and `y1` not included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct BoxPx {
    pub x0: u32,
    pub y0: u32,
    pub x1: u32,
    pub y1: u32,
}

impl BoxPx {
    pub(crate) fn width(&self) -> f64 {
        f64::from(self.x1.saturating_sub(self.x0))
    }

    pub(crate) fn height(&self) -> f64 {
        f64::from(self.y1.saturating_sub(self.y0))
    }

    pub(crate) fn join(self, other: Self) -> Self {
        Self {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }
}

impl Piece {
    pub(crate) fn bounds(&self) -> BoxPx {
        let none = BoxPx {
            x0: u32::MAX,
            y0: u32::MAX,
            x1: 0,
            y1: 0,
        };
        self.runs.iter().fold(none, |b, r| {
            b.join(BoxPx {
                x0: r.x0,
                y0: r.y,
                x1: r.x1,
                y1: r.y + 1,
            })
        })
    }

    pub(crate) fn area(&self) -> u64 {
        self.runs.iter().map(|r| u64::from(r.x1 - r.x0)).sum()
    }

    /// Joins several pieces into one, runs in reading order.
    pub(crate) fn union<'a>(pieces: impl Iterator<Item = &'a Piece>) -> Self {
        let mut runs: Vec<Run> = pieces.flat_map(|p| p.runs.iter().copied()).collect();
        runs.sort_by_key(|r| (r.y, r.x0));
        Self { runs }
    }

    /// Parts the piece by a rule that gives each pixel a side, 0 to `sides` − 1.
    pub(crate) fn part(&self, sides: usize, side: impl Fn(u32, u32) -> usize) -> Vec<Self> {
        let mut out = vec![Self::default(); sides];
        for run in &self.runs {
            let mut start = run.x0;
            let mut here = side(start, run.y);
            for x in run.x0 + 1..run.x1 {
                let next = side(x, run.y);
                if next != here {
                    out[here.min(sides - 1)].runs.push(Run {
                        x0: start,
                        x1: x,
                        y: run.y,
                    });
                    (start, here) = (x, next);
                }
            }
            out[here.min(sides - 1)].runs.push(Run {
                x0: start,
                x1: run.x1,
                y: run.y,
            });
        }
        out
    }
}

/// Pieces of the mask, in the order of their first pixel. Pixels that touch at a corner belong
/// together.
#[tracing::instrument(level = "trace", name = "label", skip_all)]
pub(crate) fn label(mask: &GrayImage) -> Vec<Piece> {
    let labels = connected_components(mask, Connectivity::Eight, Luma([0]));
    let w = mask.width() as usize;
    let mut pieces: Vec<Piece> = Vec::new();
    for (y, row) in labels.as_raw().chunks_exact(w.max(1)).enumerate() {
        let mut x = 0;
        while x < w {
            let name = row[x];
            let start = x;
            while x < w && row[x] == name {
                x += 1;
            }
            if name > 0 {
                let name = name as usize;
                if pieces.len() < name {
                    pieces.resize(name, Piece::default());
                }
                pieces[name - 1].runs.push(Run {
                    y: y as u32,
                    x0: start as u32,
                    x1: x as u32,
                });
            }
        }
    }
    pieces.retain(|p| !p.runs.is_empty());
    pieces.sort_by_key(|p| (p.runs[0].y, p.runs[0].x0));
    pieces
}

/// Pieces that can be writing: not dust, not a hole, not the sheet's edge or a shadow's.
#[tracing::instrument(level = "trace", name = "pieces", skip_all)]
pub(crate) fn writing(mask: &GrayImage, px_per_mm: f64) -> Vec<Piece> {
    let edge = 2.0 * px_per_mm;
    let (w, h) = (f64::from(mask.width()), f64::from(mask.height()));
    let mut pieces = label(mask);
    pieces.retain(|piece| {
        let b = piece.bounds();
        let area = piece.area() as f64;
        let long = b.width().max(b.height());
        let dust = area < 0.03 * px_per_mm * px_per_mm || long < 0.25 * px_per_mm;
        let at_edge = f64::from(b.x0) < edge
            || f64::from(b.y0) < edge
            || f64::from(b.x1) > w - edge
            || f64::from(b.y1) > h - edge;
        let round = b.width() / b.height();
        let hole = long > 4.0 * px_per_mm
            && area > 0.7 * b.width() * b.height()
            && (0.7..1.4).contains(&round);
        let vast = b.height() > 40.0 * px_per_mm || b.width() > 0.8 * w;
        !(dust || at_edge || hole || vast)
    });
    // More pieces than any page of writing has: paper grain or a picture. Take the largest.
    const MOST: usize = 6000;
    if pieces.len() > MOST {
        pieces.sort_by_key(|p| core::cmp::Reverse(p.area()));
        pieces.truncate(MOST);
        pieces.sort_by_key(|p| (p.runs[0].y, p.runs[0].x0));
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_hold_a_piece_together() {
        // A 4 × 4 identity: one piece with 8-connectivity (ours), four with 4-connectivity;
        // recomputed with scikit-image 0.26 (measure.label).
        let identity = GrayImage::from_fn(4, 4, |x, y| Luma([if x == y { 255 } else { 0 }]));
        assert_eq!(label(&identity).len(), 1);
        let four = connected_components(&identity, Connectivity::Four, Luma([0]));
        assert_eq!(four.pixels().map(|p| p[0]).max(), Some(4));
    }

    #[test]
    fn parting_keeps_every_pixel() {
        let bar = GrayImage::from_pixel(20, 6, Luma([255]));
        let piece = &label(&bar)[0];
        let parts = piece.part(2, |x, _| usize::from(x >= 7));
        assert_eq!((parts[0].area(), parts[1].area()), (42, 78));
    }
}
