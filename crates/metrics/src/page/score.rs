//! How much a four-sided shape looks like the sheet that is expected.

use super::quads::{Quad, area, share_factor};
use super::sides::Side;
use super::small::{Picture, Small};

/// 0 to about 1: four sides that are seen along their whole length, step clearly and all the
/// same way in colour, and the proportions of the paper.
pub(super) fn score(small: &Small, quad: &Quad, sides: &[Side; 4], proportion: f64) -> f64 {
    let size = small.size();
    let mean = mean_outwards(sides);
    let mut sum = 0.0;
    let mut least = 1.0_f64;
    for side in sides {
        let agreement: f32 = side.outwards.iter().zip(mean).map(|(a, b)| a * b).sum();
        let worth = side.worth() * (0.5 + 0.5 * f64::from(agreement.max(0.0)));
        sum += worth;
        least = least.min(worth);
    }
    let share = area(quad) / (size.0 * size.1) as f64;
    let sides = 0.6 * 0.25 * sum + 0.4 * least;
    sides
        * f64::from(share_factor(share))
        * proportion_factor(quad, size, proportion)
        * paper_factor(small, quad)
}

/// 1 for what may be paper, white or tinted, in any light that a camera corrects; down to 0 for a
/// strong colour or for something much darker than the lightest parts of the photograph.
fn paper_factor(small: &Small, quad: &Quad) -> f64 {
    const GRID: usize = 16;
    let mut light = Vec::with_capacity(GRID * GRID);
    let mut strength = Vec::with_capacity(GRID * GRID);
    let between =
        |a: (f64, f64), b: (f64, f64), t: f64| (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
    for k in 0..GRID * GRID {
        let part = |i: usize| (i as f64 + 0.5) / GRID as f64;
        let (s, t) = (part(k % GRID), part(k / GRID));
        let (x, y) = between(
            between(quad[0], quad[1], s),
            between(quad[3], quad[2], s),
            t,
        );
        let [l, warm, green] = small.between(x, y);
        light.push(l);
        strength.push((warm * warm + green * green).sqrt() / l.max(1.0));
    }
    let middle = GRID * GRID / 2;
    let light = f64::from(*light.select_nth_unstable_by(middle, f32::total_cmp).1);
    let strength = f64::from(*strength.select_nth_unstable_by(middle, f32::total_cmp).1);
    let pale = 1.0 - (strength - 0.40).clamp(0.0, 0.30) / 0.30;
    let bright = ((light / f64::from(small.highlight()) - 0.25) / 0.25).clamp(0.0, 1.0);
    pale * bright
}

fn mean_outwards(sides: &[Side; 4]) -> [f32; 3] {
    let sum: [f32; 3] = core::array::from_fn(|c| sides.iter().map(|s| s.outwards[c]).sum());
    let length = sum.iter().map(|v| v * v).sum::<f32>().sqrt();
    if length > 1e-6 {
        sum.map(|v| v / length)
    } else {
        sum
    }
}

/// 1 where the shape can be a sheet of this proportion (long side by short side), falling to 0.4
/// where it is a third off.
fn proportion_factor(quad: &Quad, size: (usize, usize), proportion: f64) -> f64 {
    let off = FOCAL_LENGTHS
        .iter()
        .filter_map(|f| seen_proportion(quad, size, *f))
        .map(|seen| {
            let upright = seen.max(1.0 / seen);
            (upright / proportion).max(proportion / upright) - 1.0
        })
        .fold(f64::INFINITY, f64::min);
    1.0 - (2.0 * (off - 0.03).clamp(0.0, 0.3))
}

/// Focal lengths of hand-held cameras, in long sides of the picture (24 to 52 mm on a 36 mm wide
/// frame).
const FOCAL_LENGTHS: [f64; 3] = [0.67, 0.85, 1.4];

/// Width by height of the flat rectangle behind a shape, for a camera of that focal length that
/// looks through the picture's middle (Zhang & He 2007, whiteboard scanning).
pub(super) fn seen_proportion(quad: &Quad, size: (usize, usize), focal: f64) -> Option<f64> {
    let f = focal * size.0.max(size.1) as f64;
    let (cx, cy) = (0.5 * (size.0 as f64 - 1.0), 0.5 * (size.1 as f64 - 1.0));
    let ray = |p: (f64, f64)| [(p.0 - cx) / f, (p.1 - cy) / f, 1.0];
    // Their order of corners is top left, top right, bottom left, bottom right.
    let (a, b, c, d) = (ray(quad[0]), ray(quad[1]), ray(quad[3]), ray(quad[2]));
    let right = dot(cross(a, d), c) / dot(cross(b, d), c);
    let down = dot(cross(a, d), b) / dot(cross(c, d), b);
    let across: [f64; 3] = core::array::from_fn(|k| right * b[k] - a[k]);
    let along: [f64; 3] = core::array::from_fn(|k| down * c[k] - a[k]);
    let ratio = (dot(across, across) / dot(along, along)).sqrt();
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}
