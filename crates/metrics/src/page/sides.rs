//! The sides of a sheet, traced step by step across each side to a part of a pixel.
//!
//! A side may bend a little (a curled sheet, a lens that distorts): it is traced as a polynomial
//! about its chord, and the corners are where neighbouring traces meet.

use super::quads::{Quad, area, is_plausible};
use super::small::{Colour, Picture};

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
}

/// A side as traced.
#[derive(Clone)]
pub(super) struct Side {
    from: (f64, f64),
    to: (f64, f64),
    /// Offset inwards from the chord, pixels, for u = -1 (from) to 1 (to).
    bend: [f64; 4],
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

impl Side {
    fn chord(&self) -> ((f64, f64), (f64, f64), f64) {
        let (dx, dy) = (self.to.0 - self.from.0, self.to.1 - self.from.1);
        let length = (dx * dx + dy * dy).sqrt().max(1e-9);
        let along = (dx / length, dy / length);
        // Corners go round clockwise on the screen, so inwards is to the right of the way.
        (along, (-along.1, along.0), length)
    }

    /// The trace at u, and its direction.
    fn at(&self, u: f64) -> ((f64, f64), (f64, f64)) {
        let (along, inwards, length) = self.chord();
        let [a, b, c, d] = self.bend;
        let v = a + u * (b + u * (c + u * d));
        let slope = (b + u * (2.0 * c + u * 3.0 * d)) / (0.5 * length);
        let t = 0.5 * (u + 1.0) * length;
        (
            (
                self.from.0 + t * along.0 + v * inwards.0,
                self.from.1 + t * along.1 + v * inwards.1,
            ),
            (along.0 + slope * inwards.0, along.1 + slope * inwards.1),
        )
    }

    /// The place along the chord nearest to a point.
    fn nearest(&self, (x, y): (f64, f64)) -> f64 {
        let (along, _, length) = self.chord();
        let t = (x - self.from.0) * along.0 + (y - self.from.1) * along.1;
        (2.0 * t / length - 1.0).clamp(-1.3, 1.3)
    }
}

/// Traces all four sides and finds the corners anew; `None` where the traces make no sheet.
pub(super) fn trace(
    picture: &impl Picture,
    quad: &Quad,
    tracing: Tracing,
) -> Option<(Quad, [Side; 4])> {
    let sides: [Side; 4] =
        core::array::from_fn(|k| trace_side(picture, quad[k], quad[(k + 1) % 4], tracing));
    let mut corners = *quad;
    for k in 0..4 {
        corners[k] = corner(&sides[(k + 3) % 4], &sides[k], quad[k])?;
    }
    (area(&corners) > 0.0 && is_plausible(&corners)).then_some((corners, sides))
}

/// Where two traces meet: tangents are intersected until the point stands still.
fn corner(before: &Side, after: &Side, start: (f64, f64)) -> Option<(f64, f64)> {
    let mut at = start;
    for _ in 0..8 {
        let (p, d) = before.at(before.nearest(at));
        let (q, e) = after.at(after.nearest(at));
        let determinant = d.0 * e.1 - d.1 * e.0;
        if determinant.abs() < 0.2 {
            return None;
        }
        let t = ((q.0 - p.0) * e.1 - (q.1 - p.1) * e.0) / determinant;
        at = (p.0 + t * d.0, p.1 + t * d.1);
    }
    (at.0.is_finite() && at.1.is_finite()).then_some(at)
}

/// One place along a side with the edge found there.
struct Sighting {
    u: f64,
    v: f64,
    step: f64,
}

fn trace_side(picture: &impl Picture, from: (f64, f64), to: (f64, f64), tracing: Tracing) -> Side {
    let mut side = Side {
        from,
        to,
        bend: [0.0; 4],
        seen: 0.0,
        step: 0.0,
        scatter: tracing.radius,
        places: 0,
        outwards: [0.0; 3],
    };
    let profiles = profiles(picture, &side, tracing);
    side.places = profiles.len();
    let Some(outwards) = outward_colour(&profiles, tracing) else {
        return side;
    };
    side.outwards = outwards;
    let sightings: Vec<Sighting> = profiles
        .iter()
        .filter_map(|profile| sight(profile, outwards, tracing))
        .collect();
    if sightings.len() < 8 {
        return side;
    }
    let tolerance = (0.12 * tracing.radius).max(0.8);
    side.bend = fit(&sightings, tracing, tolerance);
    judge(&mut side, &sightings, tolerance);
    side
}

/// Colours across the side at one place, from `-radius - band` (outside) to `radius + band`.
struct Profile {
    u: f64,
    colours: Vec<Colour>,
}

/// Steps of a profile for each pixel.
const FINENESS: usize = 2;

fn profiles(picture: &impl Picture, side: &Side, tracing: Tracing) -> Vec<Profile> {
    let (along, inwards, length) = side.chord();
    let half = ((tracing.radius + tracing.band) * FINENESS as f64).ceil() as isize;
    (0..tracing.places)
        .filter_map(|k| {
            // The last 2 % at each end are left out: corners are often bent or round.
            let u = -0.96 + 1.92 * (k as f64 + 0.5) / tracing.places as f64;
            let t = 0.5 * (u + 1.0) * length;
            let base = (side.from.0 + t * along.0, side.from.1 + t * along.1);
            let colours = (-half..=half)
                .map(|s| {
                    let v = s as f64 / FINENESS as f64;
                    let (x, y) = (base.0 + v * inwards.0, base.1 + v * inwards.1);
                    // Two more looks along the side take the sting out of noise.
                    let mut mean = [0.0; 3];
                    for w in [-1.0, 0.0, 1.0] {
                        let near = picture.between(x + w * along.0, y + w * along.1)?;
                        for (m, c) in mean.iter_mut().zip(near) {
                            *m += c / 3.0;
                        }
                    }
                    Some(mean)
                })
                .collect::<Option<Vec<_>>>()?;
            Some(Profile { u, colours })
        })
        .collect()
}

/// Unit colour difference from inside to outside, median over the places of a side.
fn outward_colour(profiles: &[Profile], tracing: Tracing) -> Option<Colour> {
    if profiles.is_empty() {
        return None;
    }
    let n = (tracing.band * FINENESS as f64) as usize + 1;
    let difference: Colour = core::array::from_fn(|c| {
        let mut all: Vec<f32> = profiles
            .iter()
            .map(|p| {
                let mean = |part: &[Colour]| {
                    part.iter().map(|colour| colour[c]).sum::<f32>() / part.len() as f32
                };
                mean(&p.colours[..n]) - mean(&p.colours[p.colours.len() - n..])
            })
            .collect();
        let middle = all.len() / 2;
        *all.select_nth_unstable_by(middle, f32::total_cmp).1
    });
    let length = difference.iter().map(|d| d * d).sum::<f32>().sqrt();
    (length > 0.5).then(|| difference.map(|d| d / length))
}

/// The strongest step of the right colour across one place.
fn sight(profile: &Profile, outwards: Colour, tracing: Tracing) -> Option<Sighting> {
    let values: Vec<f64> = profile
        .colours
        .iter()
        .map(|c| f64::from(-(c[0] * outwards[0] + c[1] * outwards[1] + c[2] * outwards[2])))
        .collect();
    let n = (tracing.band * FINENESS as f64).round().max(1.0) as usize;
    let mut running = vec![0.0];
    for v in &values {
        running.push(running.last().copied().unwrap_or(0.0) + v);
    }
    // Mean of n values from the centre inwards less that outwards, the centre's own left out.
    let steps: Vec<f64> = (n..values.len() - n)
        .map(|i| (running[i + n + 1] - running[i + 1] - running[i] + running[i - n]) / n as f64)
        .collect();
    let (k, &step) = steps
        .iter()
        .enumerate()
        .max_by(|(i, a), (j, b)| a.total_cmp(b).then(j.cmp(i)))?;
    if step < 2.0 || k == 0 || k + 1 == steps.len() {
        return None;
    }
    let (before, after) = (steps[k - 1], steps[k + 1]);
    let curvature = before - 2.0 * step + after;
    let shift = if curvature < 0.0 {
        (0.5 * (before - after) / curvature).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    let centre = (steps.len() - 1) as f64 * 0.5;
    Some(Sighting {
        u: profile.u,
        v: (k as f64 + shift - centre) / FINENESS as f64,
        step,
    })
}

/// A polynomial through most of the sightings: the straight line with the most support first,
/// then weighted least squares with weights that fall to nothing (Tukey's biweight).
fn fit(sightings: &[Sighting], tracing: Tracing, tolerance: f64) -> [f64; 4] {
    let mut bend = best_line(sightings, 2.5 * tolerance);
    for round in 0..12 {
        let degree = if round < 3 { 1 } else { tracing.degree };
        let reach = if round < 6 { 5.0 } else { 2.5 } * tolerance;
        if let Some(next) = weighted_fit(sightings, &bend, degree, reach) {
            bend = next;
        }
    }
    bend
}

fn value(bend: &[f64; 4], u: f64) -> f64 {
    bend[0] + u * (bend[1] + u * (bend[2] + u * bend[3]))
}

/// Tries lines through a fixed set of pairs of sightings; counts strength within tolerance.
fn best_line(sightings: &[Sighting], tolerance: f64) -> [f64; 4] {
    let n = sightings.len();
    let mut best = (-1.0, [0.0; 4]);
    for i in (0..n / 2).step_by((n / 48).max(1)) {
        for j in [n / 2 + i / 2, n / 2 + i, (n - 1).saturating_sub(i / 3)] {
            let (Some(a), Some(b)) = (sightings.get(i), sightings.get(j)) else {
                continue;
            };
            if (b.u - a.u).abs() < 0.3 {
                continue;
            }
            let slope = (b.v - a.v) / (b.u - a.u);
            let line = [a.v - slope * a.u, slope, 0.0, 0.0];
            let score: f64 = sightings
                .iter()
                .map(|s| {
                    let r = (s.v - value(&line, s.u)) / tolerance;
                    (1.0 - r * r).max(0.0) * s.step.min(20.0)
                })
                .sum();
            if score > best.0 {
                best = (score, line);
            }
        }
    }
    best.1
}

fn weighted_fit(
    sightings: &[Sighting],
    bend: &[f64; 4],
    degree: usize,
    reach: f64,
) -> Option<[f64; 4]> {
    let size = degree + 1;
    let mut rows = [[0.0; 5]; 4];
    for s in sightings {
        let r = (s.v - value(bend, s.u)) / reach;
        if r.abs() >= 1.0 {
            continue;
        }
        let weight = (1.0 - r * r) * (1.0 - r * r) * s.step.min(20.0);
        let powers = [1.0, s.u, s.u * s.u, s.u * s.u * s.u];
        for (row, p) in rows.iter_mut().zip(powers) {
            for (entry, q) in row.iter_mut().zip(powers) {
                *entry += weight * p * q;
            }
            row[4] += weight * p * s.v;
        }
    }
    let mut out = [0.0; 4];
    for c in 0..size {
        if rows[c][c] < 1e-9 {
            return None;
        }
        let top = rows[c];
        for row in &mut rows[c + 1..size] {
            let factor = row[c] / top[c];
            for (entry, above) in row.iter_mut().zip(top) {
                *entry -= factor * above;
            }
        }
    }
    for c in (0..size).rev() {
        let known: f64 = (c + 1..size).map(|k| rows[c][k] * out[k]).sum();
        out[c] = (rows[c][4] - known) / rows[c][c];
    }
    out.iter().all(|v| v.is_finite()).then_some(out)
}

fn judge(side: &mut Side, sightings: &[Sighting], tolerance: f64) {
    let mut steps = Vec::new();
    let mut squares = 0.0;
    for s in sightings {
        let r = s.v - value(&side.bend, s.u);
        if r.abs() <= 2.0 * tolerance {
            squares += r * r;
            steps.push(s.step);
        }
    }
    if steps.is_empty() {
        return;
    }
    side.seen = steps.len() as f64 / side.places.max(1) as f64;
    side.scatter = (squares / steps.len() as f64).sqrt();
    let middle = steps.len() / 2;
    side.step = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
}
