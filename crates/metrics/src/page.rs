//! From the photograph to the flat sheet.
//!
//! The photograph is made small and its straight edges found ([`lines`]); four-sided shapes that
//! they make ([`quads`]) are traced more closely ([`sides`]) and scored ([`score`]); the best is
//! traced again in the whole photograph, to a part of a pixel. A camera with a sheet before it
//! that may bend ([`view`]) is settled on what was seen ([`settle`], [`straighten`]), and the
//! sheet is resampled once through it ([`rectify`]).

mod homography;
mod lines;
mod quads;
mod rectify;
mod score;
mod settle;
mod sides;
mod small;
mod straighten;
#[cfg(test)]
pub(crate) mod tests;
mod turn;
mod view;

pub use homography::Homography;
pub(crate) use rectify::{grey_of, rectify, scale_at};

use thiserror::Error;
use units::{Expectation, Frame, Mm, Ratio, ScaleSource};

use crate::{Page, Photo};
use quads::Quad;
use sides::{Outline, Side, Tracing};
use small::{Picture, Small};

/// A shape that scores less is not taken for a sheet: drawn desks, bare and with books and
/// pencils on them, scored up to 0.31; whole sheets 0.68 and more.
const LEAST_SCORE: f64 = 0.42;

/// Shapes that are traced a second time.
const CLOSER_LOOKS: usize = 12;

/// Why no sheet was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PageError {
    /// Nothing in the photograph looks like a whole sheet of paper.
    #[error("no whole sheet of paper was found in the photograph")]
    NoPaper,
    /// The four corners that a person named are those of no sheet.
    #[error("these four corners make no sheet of paper")]
    NoSheetShape,
}

/// Finds the sheet in the photograph, undoes its perspective, its bend and the lens, and gives it
/// its scale in millimetres from the size of the paper that is expected.
///
/// Which way up: the sheet's own long side against the expected paper's; then the way the
/// photograph was held, unless the writing clearly stands the other way.
#[tracing::instrument(level = "trace", name = "page", skip_all)]
pub fn find_page(photo: &Photo, expect: &Expectation) -> Result<Page, PageError> {
    let (width, height) = expect.paper.size();
    let (long, short) = (width.0.max(height.0), width.0.min(height.0));
    let found = find_corners(photo, long / short).ok_or(PageError::NoPaper)?;
    flatten(photo, expect, &found).ok_or(PageError::NoPaper)
}

/// As [`find_page`], where a person has shown the sheet's corners, in order around it, either way, in
/// pixels of the photograph. Its edges are followed where they are seen near the straight lines between.
#[tracing::instrument(level = "trace", name = "page by hand", skip_all)]
pub fn find_page_at(
    photo: &Photo,
    expect: &Expectation,
    corners: [(f64, f64); 4],
) -> Result<Page, PageError> {
    let (width, height) = photo.rgb.dimensions();
    let (width, height) = (f64::from(width), f64::from(height));
    let near = |at: f64, side: f64| (-0.5 * side..=1.5 * side).contains(&at);
    let mut quad: Quad = corners;
    if quads::area(&quad) < 0.0 {
        quad.reverse();
    }
    let sheet = quad
        .iter()
        .all(|(x, y)| near(*x, width) && near(*y, height))
        && quads::area(&quad) > LEAST_BY_HAND * width * height
        && quads::is_plausible(&quad);
    if !sheet {
        return Err(PageError::NoSheetShape);
    }
    let found = Found {
        outline: Outline::straight(quad),
        // A hand sets a corner to about two pixels of a picture of 1,600.
        corner_se: width.max(height) / 800.0,
    };
    flatten(photo, expect, &found).ok_or(PageError::NoSheetShape)
}

/// Least share of the photograph that a sheet shown by hand covers.
const LEAST_BY_HAND: f64 = 0.02;

/// Undoes perspective, bend and lens; `None` where the outline is that of no sheet.
fn flatten(photo: &Photo, expect: &Expectation, found: &Found) -> Option<Page> {
    let (width, height) = expect.paper.size();
    let (outline, held) = as_held(&found.outline, height.0 >= width.0);
    let size = (width.0, height.0);
    let mut mesh = straighten::straighten(photo, &outline, size)?;
    let photo_px_per_mm = scale_at(&mesh, size, (0.5, 0.5));
    let density = rectify::density(photo_px_per_mm, size);
    let (mut rgb, mut grey) = rectify::rectify(&photo.rgb, &mesh, size, density);
    let most_against = match held {
        Held::Upright => CLEARLY_TURNED,
        Held::Sideways => 0.0,
    };
    if turn::upright_evidence(&grey, f64::from(density)) < most_against {
        image::imageops::rotate180_in_place(&mut rgb);
        image::imageops::rotate180_in_place(&mut grey);
        mesh = mesh.turned();
    }
    Some(Page {
        rgb,
        grey,
        photo_size: Some(photo.rgb.dimensions()),
        frame: Frame {
            width,
            height,
            px_per_mm: f64::from(density),
            to_photo: Some(mesh),
            scale_source: ScaleSource::Paper,
            scale_se: scale_se((width, height), found.corner_se / photo_px_per_mm),
        },
    })
}

/// Evidence of the writing that outweighs the way the photograph was held.
const CLEARLY_TURNED: f64 = -0.35;

struct Found {
    outline: Outline,
    /// Standard error of a corner, photograph pixels.
    corner_se: f64,
}

#[tracing::instrument(level = "trace", name = "corners", skip_all)]
fn find_corners(photo: &Photo, proportion: f64) -> Option<Found> {
    let small = Small::of(&photo.rgb);
    let size = small.size();
    let lines = lines::find_lines(&small);
    let wide = Tracing {
        radius: 12.0,
        band: 3.0,
        places: 40,
        degree: 2,
        fineness: 1,
        // Every small pixel is a mean as it is.
        beside: 0,
    };
    let close = Tracing {
        radius: 5.0,
        degree: 3,
        fineness: 2,
        ..wide
    };
    // A first look at every shape, a closer one at the best.
    let mut looked: Vec<(f64, Outline)> = quads::find_quads(&lines, size)
        .into_iter()
        .filter_map(|quad| {
            let (traced, sides) = sides::trace(&small, &Outline::straight(quad), wide)?;
            let score = score::score(&small, &traced.corners, &sides, proportion);
            Some((score, traced))
        })
        .collect();
    looked.sort_by(|a, b| b.0.total_cmp(&a.0));
    looked.truncate(CLOSER_LOOKS);
    let mut best: Option<(f64, Outline)> = None;
    for (_, traced) in looked {
        if let Some((traced, sides)) = sides::trace(&small, &traced, close) {
            let score = score::score(&small, &traced.corners, &sides, proportion);
            if best.is_none_or(|(most, _)| score > most) {
                best = Some((score, traced));
            }
        }
    }
    let (score, outline) = best?;
    if score < LEAST_SCORE {
        return None;
    }
    let factor = small.factor as f64;
    sharpen(
        photo,
        &outline.enlarged(factor, |p| small.to_photo(p)),
        factor,
    )
}

/// Traces the sides in the whole photograph, twice, the second time closely.
#[tracing::instrument(level = "trace", name = "sharpen", skip_all)]
fn sharpen(photo: &Photo, outline: &Outline, factor: f64) -> Option<Found> {
    let wide = Tracing {
        radius: (2.0 * factor).max(6.0),
        band: 4.0,
        places: 160,
        degree: 3,
        fineness: 2,
        beside: 1,
    };
    let close = Tracing {
        radius: factor.max(5.0),
        band: 3.0,
        places: 240,
        degree: 3,
        fineness: 2,
        beside: 1,
    };
    let outline = sides::trace(&photo.rgb, outline, wide).map_or(*outline, |(traced, _)| traced);
    let (outline, sides) = sides::trace(&photo.rgb, &outline, close)?;
    Some(Found {
        outline,
        corner_se: corner_se(&sides),
    })
}

/// A cubic through n places is about four times less sure at its ends than a mean of them.
fn corner_se(sides: &[Side; 4]) -> f64 {
    let worst = sides
        .iter()
        .map(|s| s.scatter / (s.seen * s.places as f64).max(1.0).sqrt())
        .fold(0.0, f64::max);
    4.0 * worst
}

/// How the camera was held to the sheet.
enum Held {
    /// The sheet's top is nearest to the photograph's top.
    Upright,
    /// The sheet lies on its side in the photograph.
    Sideways,
}

/// The outline from the sheet's top left, clockwise, as the photograph was held; of a sheet that
/// lies on its side, one of its two ways.
fn as_held(outline: &Outline, portrait: bool) -> (Outline, Held) {
    let quad = &outline.corners;
    let length = |a: (f64, f64), b: (f64, f64)| {
        ((a.0 - b.0) * (a.0 - b.0) + (a.1 - b.1) * (a.1 - b.1)).sqrt()
    };
    let even = length(quad[0], quad[1]) + length(quad[2], quad[3]);
    let odd = length(quad[1], quad[2]) + length(quad[3], quad[0]);
    // Side 0 runs along the top when it is of the expected kind.
    let first = usize::from((even <= odd) != portrait);
    let right = |q: &Quad| (q[1].0 - q[0].0) + (q[2].0 - q[3].0);
    let down = |q: &Quad| (q[1].1 - q[0].1) + (q[2].1 - q[3].1);
    let (a, b) = (outline.turned(first), outline.turned(first + 2));
    let best = if right(&a.corners) >= right(&b.corners) {
        a
    } else {
        b
    };
    let held = if right(&best.corners) > down(&best.corners).abs() {
        Held::Upright
    } else {
        Held::Sideways
    };
    (best, held)
}

/// Relative standard error of a scale from the paper's size. ISO 216 allows 1.5 mm up to 150 mm
/// and 2 mm up to 600 mm either way, taken as a flat distribution over that range.
pub(crate) fn scale_se(size: (Mm, Mm), corner_se: f64) -> Ratio {
    let of_side = |length: Mm| {
        let tolerance = if length.0 <= 150.0 { 1.5 } else { 2.0 };
        let cut = tolerance / 3.0_f64.sqrt();
        (cut * cut + 2.0 * corner_se * corner_se) / (length.0 * length.0)
    };
    let both = 0.25 * (of_side(size.0) + of_side(size.1));
    Ratio((both.sqrt() * 1e5).round() / 1e5)
}
