//! The traced outline of a sheet → where each of its places is seen.

use units::Mesh;

use super::homography::Homography;
use super::settle::{Target, settle};
use super::sides::{Outline, Place, Tracing, look_along};
use super::view::{Bends, Film, Lens, View};
use crate::{Photo, stats};

/// Distance of the nodes of the mesh, mm: between them the view of a sheet bent as much as a book
/// strays from straight by less than a twentieth of a pixel.
const NODE_MM: f64 = 6.0;
/// Places looked at on every side.
const PLACES: usize = 60;
/// Standard errors past which a sighting counts for nothing.
const REACH: f64 = 6.0;
/// Standard error of an edge as seen, pixels. Paper is never cut or lying so true that more looks
/// at a side would know it better.
const LEAST_SIGMA: f64 = 0.6;

/// Settles a view on the outline and then on the edges themselves. `None` where the outline is
/// that of no sheet.
#[tracing::instrument(level = "trace", name = "straighten", skip_all)]
pub(super) fn straighten(photo: &Photo, outline: &Outline, size: (f64, f64)) -> Option<Mesh> {
    let film = Film::of(photo.rgb.dimensions());
    let (w, h) = size;
    let flat = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
    let to_photo = Homography::from_points(flat, outline.corners)?;
    let first = |bends| {
        let view = View::flat(film, size, &to_photo, bends)?;
        Some(settle(view, &on_outline(outline, size), f64::INFINITY))
    };
    let (across, down) = (first(Bends::Across)?, first(Bends::Down)?);
    // Books and pads bend across far oftener than down.
    let mut view = if down.cost < 0.7 * across.cost - 4.0 {
        down.view
    } else {
        across.view
    };
    for radius in [6.0, 4.0] {
        let targets = on_edges(photo, &view.lens(), size, radius);
        view = settle(view, &targets, REACH).view;
    }
    let lens = view.lens();
    let targets = on_edges(photo, &lens, size, 4.0);
    let off = |map: &dyn Fn(f64, f64) -> (f64, f64)| {
        let off = targets.iter().map(|t| {
            let (x, y) = map(t.sheet.0, t.sheet.1);
            ((x - t.seen.0) * t.across.0 + (y - t.seen.1) * t.across.1).abs()
        });
        stats::median(&off.collect::<Vec<_>>()).unwrap_or(f64::INFINITY)
    };
    let by_view = off(&|x, y| lens.project(x, y));
    let by_corners = off(&|x, y| to_photo.apply(x, y));
    // A picture that a program has pulled straight is what no camera saw.
    Some(if by_view > 1.5 * by_corners.max(LEAST_SIGMA) {
        mesh(&|x, y| to_photo.apply(x, y), size)
    } else {
        mesh(&|x, y| lens.project(x, y), size)
    })
}

fn mesh(place: &dyn Fn(f64, f64) -> (f64, f64), (width, height): (f64, f64)) -> Mesh {
    let nodes = |length: f64| (length / NODE_MM).ceil() as u32 + 1;
    Mesh::new(nodes(width), nodes(height), |u, v| {
        let (x, y) = place(u * width, v * height);
        let rounded = |v: f64| (v * 1000.0).round() / 1000.0;
        (rounded(x), rounded(y))
    })
}

/// A place on side k of the sheet, share t of the way along it.
fn on_side(k: usize, t: f64, (w, h): (f64, f64)) -> (f64, f64) {
    match k {
        0 => (t * w, 0.0),
        1 => (w, t * h),
        2 => ((1.0 - t) * w, h),
        _ => (0.0, (1.0 - t) * h),
    }
}

/// The traced sides as targets.
fn on_outline(outline: &Outline, size: (f64, f64)) -> Vec<Target> {
    (0..4)
        .flat_map(|k| {
            let curve = outline.curve(k);
            (0..PLACES).map(move |i| {
                let t = (i as f64 + 0.5) / PLACES as f64;
                let (seen, along) = curve.at(2.0 * t - 1.0);
                Target {
                    sheet: on_side(k, t, size),
                    seen,
                    across: across(along),
                    sigma: 2.0 * LEAST_SIGMA,
                    group: None,
                }
            })
        })
        .collect()
}

/// The edges of the sheet as seen near where a view has them.
fn on_edges(photo: &Photo, lens: &Lens, size: (f64, f64), radius: f64) -> Vec<Target> {
    let tracing = Tracing {
        radius,
        band: 3.0,
        places: PLACES,
        degree: 3,
        fineness: 2,
        beside: 1,
    };
    let mut out = Vec::new();
    for k in 0..4 {
        let places: Vec<Place> = (0..PLACES)
            .map(|i| {
                let t = 0.02 + 0.96 * (i as f64 + 0.5) / PLACES as f64;
                let seen = |t: f64| {
                    let (x, y) = on_side(k, t, size);
                    lens.project(x, y)
                };
                let (before, after) = (seen(t - 0.005), seen(t + 0.005));
                Place {
                    u: t,
                    at: seen(t),
                    along: unit((after.0 - before.0, after.1 - before.1)),
                }
            })
            .collect();
        let seen = look_along(&photo.rgb, &places, tracing);
        let off: Vec<f64> = seen.iter().map(|s| s.v).collect();
        let sigma = stats::mad(&off).unwrap_or(radius).max(LEAST_SIGMA) * 2.0;
        for s in seen {
            let Some(place) = places.iter().find(|p| p.u == s.u) else {
                continue;
            };
            let inwards = across(place.along);
            out.push(Target {
                sheet: on_side(k, place.u, size),
                seen: (place.at.0 + s.v * inwards.0, place.at.1 + s.v * inwards.1),
                across: inwards,
                sigma,
                group: None,
            });
        }
    }
    out
}

fn unit((x, y): (f64, f64)) -> (f64, f64) {
    let length = (x * x + y * y).sqrt().max(1e-9);
    (x / length, y / length)
}

/// To the right of the way: into the sheet.
fn across(along: (f64, f64)) -> (f64, f64) {
    let (x, y) = unit(along);
    (-y, x)
}
