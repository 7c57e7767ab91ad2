//! The sides of a sheet, traced step by step across each side to a part of a pixel.
//!
//! A side may bend a little (a curled sheet, a lens that distorts): it is traced as a polynomial
//! about its chord, and the corners are where neighbouring traces meet.

mod curve;
mod polynomial;
mod sight;

pub(super) use curve::{Curve, Outline};
pub(super) use sight::{Place, Sighting};

use super::quads::{area, is_plausible};
use super::small::{Colour, Picture};
use polynomial::{Bend, fit, value};
use sight::{Profile, outward_colour, profiles, sight};

/// How a side is traced.
#[derive(Clone, Copy)]
pub(super) struct Tracing {
    /// How far to each side of the chord the edge is looked for, pixels.
    pub radius: f64,
    /// Width of the bands that are compared on both sides of an edge, pixels.
    pub band: f64,
    /// Places along a side.
    pub places: usize,
    /// Degree of the polynomial, 1 to 3.
    pub degree: usize,
    /// Steps for each pixel across the side.
    pub fineness: usize,
    /// How many pixels before and after a place, along the side, are looked at with it: they take
    /// the sting out of noise.
    pub beside: i32,
}

/// What was seen of a side.
#[derive(Clone, Default)]
pub(super) struct Side {
    /// Share of places where the edge lies on the trace.
    pub seen: f64,
    /// Median step over the edge at those places, levels.
    pub step: f64,
    /// Root mean square of those places about the trace, pixels.
    pub scatter: f64,
    /// How many places were looked at.
    pub places: usize,
    /// Mean colour just outside less just inside, unit length.
    pub outwards: Colour,
}

/// Steps, levels, at which a side counts half.
const HALF_STEP: f64 = 4.0;

impl Side {
    /// 0 to 1: seen along its whole length, a clear step, and tidy.
    pub fn worth(&self) -> f64 {
        let clear = self.step / (self.step + HALF_STEP);
        let tidy = 1.0 / (1.0 + 0.25 * self.scatter * self.scatter);
        self.seen * clear * tidy
    }
}

/// Traces all four sides about an outline and finds the corners anew; `None` where the traces
/// make no sheet.
pub(super) fn trace(
    picture: &impl Picture,
    outline: &Outline,
    tracing: Tracing,
) -> Option<(Outline, [Side; 4])> {
    let mut sides: [Side; 4] = Default::default();
    let curves: [Curve; 4] = core::array::from_fn(|k| {
        let mut curve = outline.curve(k);
        (curve.bend, sides[k]) = trace_side(picture, &curve, tracing);
        curve
    });
    let mut corners = outline.corners;
    for k in 0..4 {
        corners[k] = corner(&curves[(k + 3) % 4], &curves[k], corners[k])?;
    }
    let bends =
        core::array::from_fn(|k| curves[k].about(corners[k], corners[(k + 1) % 4], tracing.degree));
    let sound = area(&corners) > 0.0 && is_plausible(&corners);
    sound.then_some((Outline { corners, bends }, sides))
}

/// Where two curves meet: tangents are intersected until the point stands still.
fn corner(before: &Curve, after: &Curve, start: (f64, f64)) -> Option<(f64, f64)> {
    let nearest = |curve: &Curve, at| curve.at(curve.place(at).0.clamp(-1.3, 1.3));
    let mut at = start;
    for _ in 0..8 {
        let (p, d) = nearest(before, at);
        let (q, e) = nearest(after, at);
        let determinant = d.0 * e.1 - d.1 * e.0;
        if determinant.abs() < 0.2 {
            return None;
        }
        let t = ((q.0 - p.0) * e.1 - (q.1 - p.1) * e.0) / determinant;
        at = (p.0 + t * d.0, p.1 + t * d.1);
    }
    (at.0.is_finite() && at.1.is_finite()).then_some(at)
}

/// Outside darker than inside by lightness alone.
const DARKER: Colour = [-1.0, 0.0, 0.0];

fn trace_side(picture: &impl Picture, curve: &Curve, tracing: Tracing) -> (Bend, Side) {
    let (along, _, _) = curve.chord();
    let places = (0..tracing.places).map(|k| {
        // The last 2 % at each end are left out: corners are often bent or round.
        let u = -0.96 + 1.92 * (k as f64 + 0.5) / tracing.places as f64;
        let (at, _) = curve.at(u);
        Place { u, at, along }
    });
    let profiles = profiles(picture, places, tracing);
    let unseen = Side {
        scatter: tracing.radius,
        places: tracing.places,
        ..Side::default()
    };
    let Some(outwards) = outward_colour(&profiles, tracing) else {
        return (curve.bend, unseen);
    };
    // On a pale desk the sheet ends at its own thin shadow, beyond which the desk may be the
    // lighter of the two.
    let ways = [outwards, DARKER];
    let ways = &ways[..if outwards[0] > -0.5 { 2 } else { 1 }];
    ways.iter()
        .filter_map(|&way| trace_way(&profiles, curve, tracing, way))
        .max_by(|(_, a), (_, b)| a.worth().total_cmp(&b.worth()))
        .unwrap_or((curve.bend, unseen))
}

/// Traces the edge whose colour steps one way.
fn trace_way(
    profiles: &[Profile],
    curve: &Curve,
    tracing: Tracing,
    outwards: Colour,
) -> Option<(Bend, Side)> {
    let sightings: Vec<Sighting> = profiles
        .iter()
        .filter_map(|profile| {
            let seen = sight(profile, outwards, tracing)?;
            Some(Sighting {
                v: seen.v + value(&curve.bend, seen.u),
                ..seen
            })
        })
        .collect();
    if sightings.len() < 8 {
        return None;
    }
    let tolerance = (0.12 * tracing.radius).max(0.8);
    let (_, _, length) = curve.chord();
    let bend = fit(&sightings, tracing, tolerance, MOST_SAG * length);
    let shown = profiles.len().max(tracing.places * 2 / 5);
    let side = judge(&bend, &sightings, tolerance, shown, outwards);
    Some((bend, side))
}

/// Most that the middle of a side lies off its chord, share of the chord.
const MOST_SAG: f64 = 0.07;

fn judge(
    bend: &Bend,
    sightings: &[Sighting],
    tolerance: f64,
    places: usize,
    outwards: Colour,
) -> Side {
    let mut steps = Vec::new();
    let mut squares = 0.0;
    for s in sightings {
        let r = s.v - value(bend, s.u);
        if r.abs() <= 2.0 * tolerance {
            squares += r * r;
            steps.push(s.step);
        }
    }
    let mut side = Side {
        places,
        outwards,
        ..Side::default()
    };
    if !steps.is_empty() {
        side.seen = steps.len() as f64 / places.max(1) as f64;
        side.scatter = (squares / steps.len() as f64).sqrt();
        let middle = steps.len() / 2;
        side.step = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
    }
    side
}

/// The edge of the sheet near each of the places given, offsets inwards from them: of the two ways
/// that colours may step, the one that the most places agree on.
pub(super) fn look_along(
    picture: &impl Picture,
    places: &[Place],
    tracing: Tracing,
) -> Vec<Sighting> {
    let profiles = profiles(picture, places.iter().copied(), tracing);
    let Some(outwards) = outward_colour(&profiles, tracing) else {
        return Vec::new();
    };
    let ways = [outwards, DARKER];
    let ways = &ways[..if outwards[0] > -0.5 { 2 } else { 1 }];
    let near = (0.3 * tracing.radius).max(1.0);
    ways.iter()
        .map(|&way| -> Vec<Sighting> {
            profiles
                .iter()
                .filter_map(|profile| sight(profile, way, tracing))
                .collect()
        })
        .max_by(|a, b| {
            let agree = |all: &[Sighting]| -> f64 {
                let close = all.iter().filter(|s| s.v.abs() < near);
                close.map(|s| s.step.min(20.0)).sum()
            };
            agree(a).total_cmp(&agree(b))
        })
        .unwrap_or_default()
}
