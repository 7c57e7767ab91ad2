//! Ink mask → pieces: patches of touching ink, as runs of pixels.

use image::{GrayImage, Luma};
use units::{BoxMm, Mm};

use crate::ink::{Ink, PAPER};

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

    /// The same place in millimetres, `mm` to a pixel.
    pub(crate) fn in_mm(self, mm: f64) -> BoxMm {
        let at = |v: u32| Mm(f64::from(v) * mm);
        BoxMm {
            x0: at(self.x0),
            y0: at(self.y0),
            x1: at(self.x1),
            y1: at(self.y1),
        }
    }

    /// The whole pixels of a place in millimetres; what lies before the sheet begins with it.
    pub(crate) fn of_mm(place: &BoxMm, mm: f64) -> Self {
        // Casts of floats keep within what a whole number holds.
        let px = |v: Mm| (v.0 / mm).max(0.0).round() as u32;
        Self {
            x0: px(place.x0),
            y0: px(place.y0),
            x1: px(place.x1),
            y1: px(place.y1),
        }
    }

    /// Whether two boxes share a pixel.
    pub(crate) fn meets(&self, other: Self) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    pub(crate) fn has_row(&self, y: u32) -> bool {
        (self.y0..self.y1).contains(&y)
    }

    pub(crate) fn has_column(&self, x: u32) -> bool {
        (self.x0..self.x1).contains(&x)
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

    /// White that the piece encloses, patch by patch: its area, first column and column behind the
    /// last, in pixels of the sheet.
    pub(crate) fn enclosed(&self) -> Vec<(u64, u32, u32)> {
        if self.runs.is_empty() {
            return Vec::new();
        }
        let b = self.bounds();
        let white = self.drawn(0, 255);
        let on_sheet = |x: u32| x + b.x0 - 1;
        // The first patch is the white all round.
        patches(&white, Touch::Sides)
            .into_iter()
            .skip(1)
            .map(|patch| (patch.area(), patch.bounds()))
            .map(|(area, inside)| (area, on_sheet(inside.x0), on_sheet(inside.x1)))
            .collect()
    }

    /// The parts of the piece that hang together, in the order of their first pixels.
    pub(crate) fn parts(&self) -> Vec<Self> {
        if self.runs.is_empty() {
            return Vec::new();
        }
        let b = self.bounds();
        let mut parts = label(&self.drawn(255, 0));
        for run in parts.iter_mut().flat_map(|part| &mut part.runs) {
            run.x0 += b.x0 - 1;
            run.x1 += b.x0 - 1;
            run.y += b.y0 - 1;
        }
        parts
    }

    /// The piece as a picture with a border of one pixel.
    fn drawn(&self, ink: u8, paper: u8) -> GrayImage {
        let b = self.bounds();
        let (w, h) = (b.x1 - b.x0 + 2, b.y1 - b.y0 + 2);
        let mut picture = GrayImage::from_pixel(w, h, Luma([paper]));
        for run in &self.runs {
            for x in run.x0..run.x1 {
                picture.put_pixel(x - b.x0 + 1, run.y - b.y0 + 1, Luma([ink]));
            }
        }
        picture
    }

    /// Parts the piece by a rule that gives each column of a run a side, 0 to `sides` − 1.
    pub(crate) fn part<S: Fn(u32) -> usize>(
        &self,
        sides: usize,
        rule: impl Fn(Run) -> S,
    ) -> Vec<Self> {
        let mut out = vec![Self::default(); sides];
        for run in &self.runs {
            let side = rule(*run);
            let mut start = run.x0;
            let mut here = side(start);
            for x in run.x0 + 1..run.x1 {
                let next = side(x);
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

/// What holds a piece together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Touch {
    /// Pixels that share a side (4-connectivity).
    Sides,
    /// Pixels that share a side or a corner (8-connectivity).
    Corners,
}

/// Pieces of the mask, in the order of their first pixel. Pixels that touch at a corner belong
/// together.
pub(crate) fn label(mask: &GrayImage) -> Vec<Piece> {
    patches(mask, Touch::Corners)
}

/// Patches of whatever is not 0, in the order of their first pixel: runs of each row, joined with
/// those they touch in the row above (Rosenfeld and Pfaltz 1966, on runs).
#[tracing::instrument(level = "trace", name = "label", skip_all)]
pub(crate) fn patches(mask: &GrayImage, touch: Touch) -> Vec<Piece> {
    let reach = u32::from(touch == Touch::Corners);
    let mut runs: Vec<Run> = Vec::new();
    let mut first: Vec<usize> = Vec::new();
    let mut above = 0..0;
    for (y, row) in (0..).zip(mask.as_raw().chunks_exact(mask.width().max(1) as usize)) {
        let start = runs.len();
        runs_of(row, y, &mut runs);
        first.extend(start..runs.len());
        let mut near = above.start;
        for here in start..runs.len() {
            let run = runs[here];
            // Runs above that end before this one begins touch none of the following either.
            while near < above.end && runs[near].x1 + reach <= run.x0 {
                near += 1;
            }
            let touching = (near..above.end).take_while(|&k| runs[k].x0 < run.x1 + reach);
            touching.for_each(|k| join(&mut first, k, here));
        }
        above = start..runs.len();
    }
    // The first run of a piece comes before all others of it, so its number is known by then.
    let mut number = vec![0_usize; runs.len()];
    let mut pieces: Vec<Piece> = Vec::new();
    for (k, run) in runs.into_iter().enumerate() {
        let root = root(&mut first, k);
        if root == k {
            number[k] = pieces.len();
            pieces.push(Piece::default());
        }
        pieces[number[root]].runs.push(run);
    }
    pieces
}

/// The runs of one row.
fn runs_of(row: &[u8], y: u32, runs: &mut Vec<Run>) {
    let mut x = 0;
    while let Some(start) = ink_from(row, x) {
        let length = row[start..].iter().position(|&v| v == 0);
        x = length.map_or(row.len(), |n| start + n);
        runs.push(Run {
            y,
            x0: start as u32,
            x1: x as u32,
        });
    }
}

/// The first pixel of ink at or after a place; most of a page is paper, so it is looked for in
/// strides.
fn ink_from(row: &[u8], from: usize) -> Option<usize> {
    let rest = row.get(from..)?;
    let blank = rest
        .chunks_exact(16)
        .take_while(|chunk| chunk.iter().fold(0, |any, v| any | v) == 0)
        .count();
    let skipped = 16 * blank;
    let found = rest[skipped..].iter().position(|&v| v != 0)?;
    Some(from + skipped + found)
}

/// The first run of a run's piece, as far as is known; ways there are halved as they are gone.
fn root(first: &mut [usize], mut k: usize) -> usize {
    while first[k] != k {
        first[k] = first[first[k]];
        k = first[k];
    }
    k
}

fn join(first: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(first, a), root(first, b));
    first[a.max(b)] = a.min(b);
}

/// Pieces that can be writing: not dust, not a hole, not the sheet's edge or a shadow's.
#[tracing::instrument(level = "trace", name = "pieces", skip_all)]
pub(crate) fn writing(ink: &Ink, px_per_mm: f64) -> Vec<Piece> {
    let mask = &ink.mask;
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
            && (0.7..1.4).contains(&round)
            && (area > 0.7 * b.width() * b.height() || is_filled(ink, b));
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

/// Whether a box is dark throughout its middle, as a punched hole is and a letter is not. The mask
/// does not tell: a threshold that follows its surroundings hollows large dark places out.
fn is_filled(ink: &Ink, b: BoxPx) -> bool {
    let paper = f64::from(PAPER);
    let faint = paper - 0.4 * (paper - ink.level);
    let (w, h) = ((b.x1 - b.x0) / 4, (b.y1 - b.y0) / 4);
    let inner = (b.y0 + h..b.y1 - h).flat_map(|y| (b.x0 + w..b.x1 - w).map(move |x| (x, y)));
    let (mut dark, mut all) = (0u32, 0u32);
    for (x, y) in inner {
        all += 1;
        dark += u32::from(f64::from(ink.grey.get_pixel(x, y)[0]) < faint);
    }
    all > 0 && dark * 10 > all * 9
}

#[cfg(test)]
mod tests {
    use image::Luma;
    use imageproc::region_labelling::{Connectivity, connected_components};
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn corners_hold_a_piece_together() {
        // A 4 × 4 identity: one piece with 8-connectivity (ours), four with 4-connectivity;
        // recomputed with scikit-image 0.26 (measure.label).
        let identity = GrayImage::from_fn(4, 4, |x, y| Luma([if x == y { 255 } else { 0 }]));
        assert_eq!(label(&identity).len(), 1);
        assert_eq!(patches(&identity, Touch::Sides).len(), 4);
    }

    proptest! {
        #[test]
        fn patches_are_those_that_imageproc_labels(
            width in 1_u32..40,
            pixels in proptest::collection::vec(proptest::bool::weighted(0.45), 1..900),
        ) {
            let height = pixels.len() as u32 / width;
            let mask = GrayImage::from_fn(width, height, |x, y| {
                Luma([if pixels[(y * width + x) as usize] { 255 } else { 0 }])
            });
            for (touch, theirs) in [
                (Touch::Sides, Connectivity::Four),
                (Touch::Corners, Connectivity::Eight),
            ] {
                // Theirs counts too few labels for the smallest pictures: it gets a blank border.
                let mut bordered = GrayImage::new(width + 2, height + 2);
                image::imageops::replace(&mut bordered, &mask, 1, 1);
                let labels = connected_components(&bordered, theirs, Luma([0]));
                let expected = image::imageops::crop_imm(&labels, 1, 1, width, height).to_image();
                let mut ours = expected.clone();
                ours.fill(0);
                for (piece, number) in patches(&mask, touch).iter().zip(1..) {
                    for run in &piece.runs {
                        (run.x0..run.x1).for_each(|x| ours.put_pixel(x, run.y, Luma([number])));
                    }
                }
                prop_assert_eq!(ours, expected);
            }
        }
    }

    #[test]
    fn parting_keeps_every_pixel() {
        let bar = GrayImage::from_pixel(20, 6, Luma([255]));
        let piece = &label(&bar)[0];
        let parts = piece.part(2, |_| |x| usize::from(x >= 7));
        assert_eq!((parts[0].area(), parts[1].area()), (42, 78));
    }

    #[test]
    fn parts_that_do_not_touch_are_told_apart_where_they_stand() {
        let run = |y, x0, x1| Run { y, x0, x1 };
        let piece = Piece {
            runs: vec![run(5, 3, 6), run(5, 8, 9), run(6, 6, 7), run(6, 9, 12)],
        };
        let parts = piece.parts();
        assert_eq!(parts[0].runs, [run(5, 3, 6), run(6, 6, 7)]);
        assert_eq!(parts[1].runs, [run(5, 8, 9), run(6, 9, 12)]);
    }

    #[test]
    fn enclosed_white_is_counted_patch_by_patch() {
        let eight = GrayImage::from_fn(30, 40, |x, y| {
            let outside = !(5..=20).contains(&x) || !(5..35).contains(&y);
            let hole = (8..18).contains(&x) && ((8..18).contains(&y) || (22..32).contains(&y));
            Luma([if outside || hole { 0 } else { 255 }])
        });
        let found = label(&eight)[0].enclosed();
        assert_eq!(found, vec![(100, 8, 18), (100, 8, 18)]);
    }

    #[test]
    fn a_punched_hole_is_no_writing_though_its_middle_is_not_in_the_mask() {
        let disc = |x: u32, y: u32, r: f64| {
            let (dx, dy) = (f64::from(x) - 100.0, f64::from(y) - 100.0);
            dx * dx + dy * dy < r * r
        };
        let drawn = |inner: u8| {
            let grey = GrayImage::from_fn(200, 200, |x, y| {
                Luma([match (disc(x, y, 20.0), disc(x, y, 30.0)) {
                    (true, _) => inner,
                    (_, true) => 60,
                    _ => PAPER,
                }])
            });
            // The mask is hollow either way.
            Ink::drawn(grey, 61, (60.0, 10.0, 0.5)).0
        };
        assert!(writing(&drawn(70), 10.0).is_empty(), "a hole");
        assert_eq!(writing(&drawn(PAPER), 10.0).len(), 1, "a large o");
    }
}
