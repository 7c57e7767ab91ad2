//! What the picture's border has taken: writing that runs up to it, and should go on beyond. Blank
//! paper outside the picture costs nothing.

use units::Mesh;

use super::cells::{self, Tally};
use crate::Page;
use crate::glance::{Light, Strokes};
use crate::page::scale_at;

/// Border of the sheet that is not looked at, mm: nobody writes there.
const MARGIN: f64 = 4.0;
/// Writing has run up to the picture's border where there is ink nearer to it than so many heights
/// of a short letter: more than words and lines leave between them.
const REACH: f64 = 3.0;
/// The picture's border is looked at in pieces of this length, mm.
const PIECE: f64 = 6.0;

/// Share of the page's writing that should go on outside the picture; `None` where the photograph
/// is not known any more. `short` is the height of a short letter, mm.
#[tracing::instrument(level = "trace", name = "fit: cut off", skip_all)]
pub(super) fn lost(page: &Page, light: &Light, short: f64) -> Option<f64> {
    let mesh = page.frame.to_photo.as_ref()?;
    let border = Border::of(
        page.photo_size?,
        mesh,
        (page.frame.width.0, page.frame.height.0),
    );
    if mesh.nodes.iter().all(|node| border.beyond(*node).1 <= 0.0) {
        return Some(0.0);
    }
    let px_per_mm = page.frame.px_per_mm;
    let strokes = Strokes::up_to(MARGIN, &page.grey, light, px_per_mm);
    let ink = cells::ink(light, &strokes, px_per_mm);
    let side = light.side_mm(px_per_mm);
    let size = (page.frame.width.0, page.frame.height.0);
    let margin = (MARGIN / size.0, MARGIN / size.1);
    let inside = |share: f64, margin: f64| (margin..=1.0 - margin).contains(&share);
    let (mut seen, mut near, mut missing) = (
        Tally::default(),
        vec![Tally::default(); 4 * border.pieces],
        vec![0.0; 4 * border.pieces],
    );
    for (k, ink) in ink.iter().enumerate() {
        let middle = |k: usize| (k as f64 + 0.5) * side;
        let u = middle(k % light.columns()) / size.0;
        let v = middle(k / light.columns()) / size.1;
        if !inside(u, margin.0) || !inside(v, margin.1) {
            continue;
        }
        let at = mesh.at(u, v);
        let (side, most) = border.beyond(at);
        if most > 0.0 {
            missing[border.piece(side, at)] += 1.0;
            continue;
        }
        let cell = Tally {
            cells: 1.0,
            ink: *ink,
        };
        seen.add(cell);
        for side in 0..4 {
            if -border.distances(at)[side] < REACH * short * border.px_per_mm {
                near[border.piece(side, at)].add(cell);
            }
        }
    }
    let lost: f64 = missing
        .iter()
        .enumerate()
        .filter(|(_, cells)| **cells > 0.0)
        .map(|(piece, cells)| {
            let beside = border.beside(piece);
            let near = Tally::of(&near[beside]);
            cells * near.ink / near.cells.max(1.0)
        })
        .sum();
    Some(lost / (seen.ink + lost).max(f64::MIN_POSITIVE))
}

/// The four sides of the picture, in pieces.
struct Border {
    size: (f64, f64),
    px_per_mm: f64,
    /// Pieces of each side.
    pieces: usize,
}

impl Border {
    fn of(photo: (u32, u32), mesh: &Mesh, sheet: (f64, f64)) -> Self {
        let size = (f64::from(photo.0), f64::from(photo.1));
        let px_per_mm = scale_at(mesh, sheet, (0.5, 0.5));
        let pieces = size.0.max(size.1) / (PIECE * px_per_mm);
        Self {
            size,
            px_per_mm,
            pieces: pieces.ceil().clamp(1.0, 1000.0) as usize,
        }
    }

    /// How far outside each side a place of the photograph lies, pixels; negative inside.
    fn distances(&self, (x, y): (f64, f64)) -> [f64; 4] {
        let (w, h) = self.size;
        [-0.5 - x, -0.5 - y, x + 0.5 - w, y + 0.5 - h]
    }

    /// The side that a place is farthest outside of, and how far.
    fn beyond(&self, at: (f64, f64)) -> (usize, f64) {
        let distances = self.distances(at);
        let side = (1..4).fold(0, |best, side| {
            if distances[side] > distances[best] {
                side
            } else {
                best
            }
        });
        (side, distances[side])
    }

    /// The piece of a side that is nearest to a place.
    fn piece(&self, side: usize, (x, y): (f64, f64)) -> usize {
        let along = if side.is_multiple_of(2) { y } else { x };
        let place = (along / (PIECE * self.px_per_mm)).max(0.0) as usize;
        side * self.pieces + place.min(self.pieces - 1)
    }

    /// A piece and the two beside it.
    fn beside(&self, piece: usize) -> std::ops::Range<usize> {
        let first = piece / self.pieces * self.pieces;
        piece.saturating_sub(1).max(first)..(piece + 2).min(first + self.pieces)
    }
}
