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

/// Offset inwards from the chord of a side, pixels, as a polynomial in u, which runs from -1 at
/// the side's first corner to 1 at its second.
type Bend = [f64; 4];

/// The outline of a sheet: corners clockwise on the screen, and how each side bends from its
/// corner to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outline {
    pub corners: Quad,
    pub bends: [Bend; 4],
}

impl Outline {
    /// Straight sides.
    pub fn straight(corners: Quad) -> Self {
        Self {
            corners,
            bends: [[0.0; 4]; 4],
        }
    }

    /// The outline in a picture `factor` times as large, whose points `map` gives.
    pub fn enlarged(&self, factor: f64, map: impl Fn((f64, f64)) -> (f64, f64)) -> Self {
        Self {
            corners: self.corners.map(map),
            bends: self.bends.map(|bend| bend.map(|v| v * factor)),
        }
    }

    fn curve(&self, k: usize) -> Curve {
        Curve {
            from: self.corners[k],
            to: self.corners[(k + 1) % 4],
            bend: self.bends[k],
        }
    }
}

/// One bent side.
struct Curve {
    from: (f64, f64),
    to: (f64, f64),
    bend: Bend,
}

impl Curve {
    /// Unit vectors along the chord and inwards, and the chord's length.
    fn chord(&self) -> ((f64, f64), (f64, f64), f64) {
        let (dx, dy) = (self.to.0 - self.from.0, self.to.1 - self.from.1);
        let length = (dx * dx + dy * dy).sqrt().max(1e-9);
        let along = (dx / length, dy / length);
        // Corners go round clockwise on the screen, so inwards is to the right of the way.
        (along, (-along.1, along.0), length)
    }

    /// The point at u, and the direction there.
    fn at(&self, u: f64) -> ((f64, f64), (f64, f64)) {
        let (along, inwards, length) = self.chord();
        let [_, b, c, d] = self.bend;
        let v = value(&self.bend, u);
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

    /// Where a point lies: u along the chord, and its offset inwards.
    fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (along, inwards, length) = self.chord();
        let (dx, dy) = (x - self.from.0, y - self.from.1);
        let t = dx * along.0 + dy * along.1;
        (2.0 * t / length - 1.0, dx * inwards.0 + dy * inwards.1)
    }

    /// The same curve about another chord.
    fn about(&self, from: (f64, f64), to: (f64, f64), degree: usize) -> Bend {
        let chord = Curve {
            from,
            to,
            bend: [0.0; 4],
        };
        let sightings: Vec<Sighting> = (-8..=8)
            .map(|k| {
                let (u, v) = chord.place(self.at(f64::from(k) / 8.0).0);
                Sighting { u, v, step: 1.0 }
            })
            .collect();
        weighted_fit(&sightings, &[0.0; 4], degree, f64::INFINITY).unwrap_or(self.bend)
    }
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

/// One place along a side with the edge found there.
struct Sighting {
    u: f64,
    v: f64,
    step: f64,
}

/// Outside darker than inside by lightness alone.
const DARKER: Colour = [-1.0, 0.0, 0.0];

fn trace_side(picture: &impl Picture, curve: &Curve, tracing: Tracing) -> (Bend, Side) {
    let profiles = profiles(picture, curve, tracing);
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
    let side = judge(&bend, &sightings, tolerance, tracing.places, outwards);
    Some((bend, side))
}

/// Most that the middle of a side lies off its chord, share of the chord.
const MOST_SAG: f64 = 0.07;

/// Colours across the side at one place, from `-radius - band` (outside) to `radius + band`.
struct Profile {
    u: f64,
    colours: Vec<Colour>,
}

/// Steps of a profile for each pixel.
const FINENESS: usize = 2;

fn profiles(picture: &impl Picture, curve: &Curve, tracing: Tracing) -> Vec<Profile> {
    let (along, inwards, _) = curve.chord();
    let half = ((tracing.radius + tracing.band) * FINENESS as f64).ceil() as isize;
    (0..tracing.places)
        .filter_map(|k| {
            // The last 2 % at each end are left out: corners are often bent or round.
            let u = -0.96 + 1.92 * (k as f64 + 0.5) / tracing.places as f64;
            let (base, _) = curve.at(u);
            if !picture.holds(base.0, base.1) {
                return None;
            }
            let colours = (-half..=half)
                .map(|s| {
                    let v = s as f64 / FINENESS as f64;
                    let (x, y) = (base.0 + v * inwards.0, base.1 + v * inwards.1);
                    // Two more looks along the side take the sting out of noise.
                    let mut mean = [0.0; 3];
                    for w in [-1.0, 0.0, 1.0] {
                        let near = picture.between(x + w * along.0, y + w * along.1);
                        for (m, c) in mean.iter_mut().zip(near) {
                            *m += c / 3.0;
                        }
                    }
                    mean
                })
                .collect();
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

/// A polynomial through most of the sightings: the straight line or parabola with the most
/// support first, then weighted least squares with weights that fall to nothing (Tukey's
/// biweight).
fn fit(sightings: &[Sighting], tracing: Tracing, tolerance: f64, most_sag: f64) -> Bend {
    let mut bend = best_start(sightings, 2.5 * tolerance, most_sag);
    for round in 0..8 {
        let degree = if round < 2 { 2 } else { tracing.degree };
        let reach = if round < 4 { 5.0 } else { 2.5 } * tolerance;
        if let Some(next) = weighted_fit(sightings, &bend, degree, reach) {
            bend = next;
        }
    }
    bend
}

fn value(bend: &Bend, u: f64) -> f64 {
    bend[0] + u * (bend[1] + u * (bend[2] + u * bend[3]))
}

/// Tries parabolas through a fixed set of triples of sightings, and
/// keeps the one with the most strength within tolerance.
fn best_start(sightings: &[Sighting], tolerance: f64, most_sag: f64) -> Bend {
    const TRIES: usize = 9;
    let n = sightings.len();
    let support = |bend: &Bend| -> f64 {
        sightings
            .iter()
            .map(|s| {
                let r = (s.v - value(bend, s.u)) / tolerance;
                (1.0 - r * r).max(0.0) * s.step.min(20.0)
            })
            .sum()
    };
    let third = |part: usize, k: usize| &sightings[(part * TRIES + k) * (n - 1) / (3 * TRIES - 1)];
    let mut best = (-1.0, [0.0; 4]);
    for k in 0..TRIES * TRIES * TRIES {
        let a = third(0, k % TRIES);
        let b = third(1, k / TRIES % TRIES);
        let c = third(2, k / (TRIES * TRIES));
        if let Some(bend) = parabola(a, b, c).filter(|bend| bend[2].abs() <= most_sag) {
            let score = support(&bend);
            if score > best.0 {
                best = (score, bend);
            }
        }
    }
    best.1
}

fn parabola(a: &Sighting, b: &Sighting, c: &Sighting) -> Option<Bend> {
    let (ab, ac, bc) = (b.u - a.u, c.u - a.u, c.u - b.u);
    if ab < 0.1 || bc < 0.1 {
        return None;
    }
    let first = (b.v - a.v) / ab;
    let second = ((c.v - b.v) / bc - first) / ac;
    // Newton's form about a and b, written out in powers of u.
    Some([
        a.v - first * a.u + second * a.u * b.u,
        first - second * (a.u + b.u),
        second,
        0.0,
    ])
}

fn weighted_fit(sightings: &[Sighting], bend: &Bend, degree: usize, reach: f64) -> Option<Bend> {
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
