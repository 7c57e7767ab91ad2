//! What the picture's border has taken. Blank paper outside the picture costs nothing while the
//! sheet's sides can still be followed; a line of writing that runs out of it is lost as a whole,
//! for the text that belongs to it cannot be laid along what is left.

use units::Mesh;

use super::cells::{self, Tally};
use crate::Page;
use crate::glance::{Light, Strokes};
use crate::page::scale_at;

/// Border of the sheet that is not looked at, mm: hardly anybody writes there.
const MARGIN: f64 = 4.0;
/// Writing runs out of the picture where there is ink nearer to its border than so many heights of
/// a short letter: more than words and lines leave between them.
const REACH: f64 = 3.0;
/// The picture's border is looked at in pieces of this length, mm.
const PIECE: f64 = 6.0;
/// Cells of writing that a row must have lost to count.
const LEAST_LOST: f64 = 1.0;

/// What lies outside the picture.
pub(super) struct Outside {
    /// Share of the writing that stands in lines which run out of it, or should stand beyond them.
    pub writing: f64,
    /// Share of a side of the sheet, of the side that has lost most.
    pub side: f64,
}

impl Outside {
    /// `None` where the photograph is not known any more. `short` is the height of a short letter,
    /// mm.
    #[tracing::instrument(level = "trace", name = "fit: cut off", skip_all)]
    pub fn of(page: &Page, light: &Light, short: f64) -> Option<Self> {
        let mesh = page.frame.to_photo.as_ref()?;
        let sheet = (page.frame.width.0, page.frame.height.0);
        let border = Border::of(page.photo_size?, scale_at(mesh, sheet, (0.5, 0.5)));
        let all_inside = mesh.nodes.iter().all(|node| border.beyond(*node).1 <= 0.0);
        Some(Self {
            writing: if all_inside {
                0.0
            } else {
                writing(page, mesh, &border, light, REACH * short)
            },
            side: side(mesh, &border),
        })
    }
}

/// Largest share of a side of the sheet that lies outside.
fn side(mesh: &Mesh, border: &Border) -> f64 {
    const STEPS: u32 = 200;
    let at = |k: u32| (f64::from(k) + 0.5) / f64::from(STEPS);
    let sides: [fn(f64) -> (f64, f64); 4] =
        [|t| (t, 0.0), |t| (1.0, t), |t| (t, 1.0), |t| (0.0, t)];
    let outside = sides.map(|place| {
        let lost = |k: &u32| {
            let (u, v) = place(at(*k));
            border.beyond(mesh.at(u, v)).1 > 0.0
        };
        (0..STEPS).filter(lost).count()
    });
    outside.into_iter().max().unwrap_or_default() as f64 / f64::from(STEPS)
}

/// One cell of the sheet.
struct Cell {
    row: usize,
    ink: f64,
    /// Its middle in the photograph.
    at: (f64, f64),
}

/// The cells of the sheet but for its margin.
fn cells_of(page: &Page, mesh: &Mesh, light: &Light) -> Vec<Cell> {
    let px_per_mm = page.frame.px_per_mm;
    let strokes = Strokes::up_to(MARGIN, &page.grey, light, px_per_mm);
    let side = light.side_mm(px_per_mm);
    let middle = |k: usize| (k as f64 + 0.5) * side;
    let inside = |place: f64, length: f64| (MARGIN..length - MARGIN).contains(&place);
    let (width, height) = (page.frame.width.0, page.frame.height.0);
    let ink = cells::ink(light, &strokes, px_per_mm);
    let cell = |(k, ink): (usize, f64)| {
        let (x, y) = (middle(k % light.columns()), middle(k / light.columns()));
        (inside(x, width) && inside(y, height)).then(|| Cell {
            row: k / light.columns(),
            ink,
            at: mesh.at(x / width, y / height),
        })
    };
    ink.into_iter().enumerate().filter_map(cell).collect()
}

/// Share of the writing in rows that run out of the picture. Outside, it is as dense as within
/// `reach` mm of the nearest piece of the picture's border.
fn writing(page: &Page, mesh: &Mesh, border: &Border, light: &Light, reach: f64) -> f64 {
    let cells = cells_of(page, mesh, light);
    let mut near = vec![Tally::default(); 4 * border.pieces];
    for cell in cells.iter().filter(|cell| border.beyond(cell.at).1 <= 0.0) {
        for (side, distance) in border.distances(cell.at).into_iter().enumerate() {
            if -distance < reach * border.px_per_mm {
                near[border.piece(side, cell.at)].add(Tally {
                    cells: 1.0,
                    ink: cell.ink,
                });
            }
        }
    }
    let rows = cells.iter().map(|cell| cell.row + 1).max().unwrap_or(0);
    let (mut seen, mut lost) = (vec![0.0; rows], vec![0.0; rows]);
    for cell in &cells {
        let (side, beyond) = border.beyond(cell.at);
        if beyond > 0.0 {
            let near = Tally::of(&near[border.beside(border.piece(side, cell.at))]);
            lost[cell.row] += near.ink / near.cells.max(1.0);
        } else {
            seen[cell.row] += cell.ink;
        }
    }
    let (mut broken, mut all) = (0.0, 0.0);
    for (seen, lost) in seen.into_iter().zip(lost) {
        all += seen;
        if lost >= LEAST_LOST {
            all += lost;
            broken += seen + lost;
        }
    }
    if all > 0.0 { broken / all } else { 0.0 }
}

/// The four sides of the picture, in pieces.
struct Border {
    size: (f64, f64),
    px_per_mm: f64,
    /// Pieces of each side.
    pieces: usize,
}

impl Border {
    fn of((width, height): (u32, u32), px_per_mm: f64) -> Self {
        let size = (f64::from(width), f64::from(height));
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
        let distances = self.distances(at).into_iter().enumerate();
        distances.fold((0, f64::NEG_INFINITY), |most, this| {
            if this.1 > most.1 { this } else { most }
        })
    }

    /// The piece of a side that is nearest to a place.
    fn piece(&self, side: usize, (x, y): (f64, f64)) -> usize {
        let along = if side.is_multiple_of(2) { y } else { x };
        let place = (along / (PIECE * self.px_per_mm)).max(0.0) as usize;
        side * self.pieces + place.min(self.pieces - 1)
    }

    /// A piece and those beside it on the same side.
    fn beside(&self, piece: usize) -> std::ops::Range<usize> {
        let first = piece / self.pieces * self.pieces;
        piece.saturating_sub(1).max(first)..(piece + 2).min(first + self.pieces)
    }
}

#[cfg(test)]
mod tests {
    use image::{GrayImage, Luma, RgbImage};
    use units::{Frame, Mm, Ratio, ScaleSource};

    use super::*;

    /// Lines of strokes 10 mm apart on a sheet of 125 × 125 mm, written from 20 to 105 mm across and
    /// down to 93 mm, in a photograph of this size whose top left corner is the sheet's.
    fn outside(photo: (u32, u32)) -> Outside {
        let grey = GrayImage::from_fn(1000, 1000, |x, y| {
            let written = (160..840).contains(&x) && (160..800).contains(&y);
            Luma([if written && x % 14 < 4 && y % 80 < 24 {
                70
            } else {
                220
            }])
        });
        let page = Page {
            rgb: RgbImage::new(1, 1),
            frame: Frame {
                width: Mm(125.0),
                height: Mm(125.0),
                px_per_mm: 8.0,
                to_photo: Some(Mesh::new(2, 2, |u, v| (1000.0 * u, 1000.0 * v))),
                scale_source: ScaleSource::Paper,
                scale_se: Ratio(0.0),
            },
            photo_size: Some(photo),
            grey,
        };
        let light = Light::of(&page.grey, 8.0);
        Outside::of(&page, &light, 3.0).expect("a photograph")
    }

    #[test]
    fn a_sheet_within_the_picture_has_lost_nothing() {
        let outside = outside((1010, 1010));
        assert_eq!((outside.writing, outside.side), (0.0, 0.0));
    }

    #[test]
    fn blank_paper_outside_takes_no_writing() {
        let below = outside((1010, 850));
        assert_eq!((below.writing, below.side), (0.0, 1.0));
        assert_eq!(outside((930, 1010)).writing, 0.0);
    }

    #[test]
    fn lines_that_run_out_are_lost_as_a_whole() {
        let aside = outside((700, 1010)).writing;
        assert!(aside > 0.95, "{aside}");
    }

    #[test]
    fn lines_that_should_follow_are_lost_too() {
        // Five of the eight lines are seen; there is room for another five.
        let below = outside((1010, 560)).writing;
        assert!((0.4..0.7).contains(&below), "{below}");
    }
}
