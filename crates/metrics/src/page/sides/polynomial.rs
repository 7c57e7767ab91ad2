//! Polynomials of at most third degree through what was seen of a side.

use super::Tracing;
use super::sight::Sighting;

/// Offset inwards from the chord of a side, pixels, as a polynomial in u, which runs from -1 at
/// the side's first corner to 1 at its second.
pub(in crate::page) type Bend = [f64; 4];

/// A polynomial through most of the sightings: the straight line or parabola with the most
/// support first, then weighted least squares with weights that fall to nothing (Tukey's
/// biweight).
pub(super) fn fit(sightings: &[Sighting], tracing: Tracing, tolerance: f64, most_sag: f64) -> Bend {
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

/// The polynomial at u.
pub(in crate::page) fn value(bend: &Bend, u: f64) -> f64 {
    bend[0] + u * (bend[1] + u * (bend[2] + u * bend[3]))
}

/// Tries parabolas through a fixed set of triples of sightings, and
/// keeps the one with the most strength within tolerance.
fn best_start(sightings: &[Sighting], tolerance: f64, most_sag: f64) -> Bend {
    const TRIES: usize = 7;
    let n = sightings.len();
    let eights: Vec<Eight> = sightings
        .chunks(8)
        .map(|some| Eight::of(some, tolerance))
        .collect();
    let third = |part: usize, k: usize| &sightings[(part * TRIES + k) * (n - 1) / (3 * TRIES - 1)];
    let mut best = (-1.0, [0.0; 4]);
    for k in 0..TRIES * TRIES * TRIES {
        let a = third(0, k % TRIES);
        let b = third(1, k / TRIES % TRIES);
        let c = third(2, k / (TRIES * TRIES));
        if let Some(bend) = parabola(a, b, c).filter(|bend| bend[2].abs() <= most_sag) {
            let score = support(&eights, &bend, tolerance);
            if score > best.0 {
                best = (score, bend);
            }
        }
    }
    best.1
}

/// Eight sightings side by side, whose support is summed at once; in units of the tolerance.
struct Eight {
    u: [f32; 8],
    v: [f32; 8],
    strength: [f32; 8],
}

impl Eight {
    fn of(sightings: &[Sighting], tolerance: f64) -> Self {
        let each = |of: &dyn Fn(&Sighting) -> f64| {
            core::array::from_fn(|k| sightings.get(k).map_or(0.0, of) as f32)
        };
        Self {
            u: each(&|s| s.u),
            v: each(&|s| s.v / tolerance),
            strength: each(&|s| s.step.min(20.0)),
        }
    }
}

/// How strongly sightings lie within tolerance of a parabola.
fn support(eights: &[Eight], bend: &Bend, tolerance: f64) -> f32 {
    let [a, b, c, _] = bend.map(|part| (part / tolerance) as f32);
    let mut sums = [0.0_f32; 8];
    for Eight { u, v, strength } in eights {
        for k in 0..8 {
            let off = v[k] - (a + u[k] * (b + u[k] * c));
            sums[k] += (1.0 - off * off).max(0.0) * strength[k];
        }
    }
    sums.iter().sum()
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

/// Weighted least squares with Tukey's biweight about `bend`.
pub(super) fn weighted_fit(
    sightings: &[Sighting],
    bend: &Bend,
    degree: usize,
    reach: f64,
) -> Option<Bend> {
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
