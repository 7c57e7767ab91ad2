//! Four-sided shapes that straight edges make.

use super::lines::{DIRECTIONS, Line};

/// Four corners in order around the shape, pixels.
pub(super) type Quad = [(f64, f64); 4];

/// Shapes handed on to the closer look.
const MOST_QUADS: usize = 60;
/// Opposite sides turn against each other by at most this, degrees.
const MOST_CONVERGENCE: usize = 34;
/// A sheet covers at least this share of the photograph.
const LEAST_AREA: f64 = 0.10;
/// A side of which less than this share lies in the photograph counts for less.
const LEAST_SHOWN: f32 = 0.55;
/// Corners lie at most this share of the photograph's side outside it.
const MOST_OUTSIDE: f64 = 0.25;

/// Signed area of a polygon, positive when its corners go round clockwise on the screen.
pub(super) fn area(quad: &Quad) -> f64 {
    0.5 * (0..4)
        .map(|k| {
            let ((a, b), (c, d)) = (quad[k], quad[(k + 1) % 4]);
            a * d - b * c
        })
        .sum::<f64>()
}

/// Whether every corner turns the same way and none is nearly straight or folded back.
pub(super) fn is_plausible(quad: &Quad) -> bool {
    (0..4).all(|k| {
        let (a, b, c) = (quad[(k + 3) % 4], quad[k], quad[(k + 1) % 4]);
        let (u, v) = ((b.0 - a.0, b.1 - a.1), (c.0 - b.0, c.1 - b.1));
        let cross = u.0 * v.1 - u.1 * v.0;
        let lengths = ((u.0 * u.0 + u.1 * u.1) * (v.0 * v.0 + v.1 * v.1)).sqrt();
        // sin 52°: corners of a sheet tilted by 30° stay well inside.
        cross > 0.79 * lengths
    })
}

/// Shapes by the support of their sides, best first, in small pixels.
#[tracing::instrument(level = "trace", name = "edges: quads", skip_all)]
pub(super) fn find_quads(lines: &[Line], size: (usize, usize)) -> Vec<Quad> {
    let (w, h) = (size.0 as f64, size.1 as f64);
    let pairs = opposite_pairs(lines, 0.2 * w.min(h));
    let mut found: Vec<(f32, Quad)> = Vec::new();
    for (i, first) in pairs.iter().enumerate() {
        for second in &pairs[i + 1..] {
            let turn = apart(first.middle, second.middle);
            if turn < 50 {
                continue;
            }
            let [a, c] = first.sides;
            let [b, d] = second.sides;
            if let Some((quad, ordered)) = close(&lines[a], &lines[b], &lines[c], &lines[d], w, h) {
                let score = support(&ordered, &quad) * share_factor(area(&quad) / (w * h));
                found.push((score, quad));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.truncate(MOST_QUADS);
    found
        .into_iter()
        .map(|(_, quad)| quad.map(|(x, y)| (x + 0.5 * (w - 1.0), y + 0.5 * (h - 1.0))))
        .collect()
}

/// Of two shapes equally well supported the larger one is more likely the whole sheet.
pub(super) fn share_factor(share: f64) -> f32 {
    (0.7 + 0.3 * (share / 0.5).min(1.0)) as f32
}

struct Pair {
    sides: [usize; 2],
    middle: usize,
}

fn apart(a: usize, b: usize) -> usize {
    let turn = a.abs_diff(b);
    turn.min(DIRECTIONS - turn)
}

fn opposite_pairs(lines: &[Line], least_distance: f64) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for (i, a) in lines.iter().enumerate() {
        for (j, b) in lines.iter().enumerate().skip(i + 1) {
            if apart(a.degrees, b.degrees) > MOST_CONVERGENCE {
                continue;
            }
            let same_way = a.normal.0 * b.normal.0 + a.normal.1 * b.normal.1 > 0.0;
            let other = if same_way { b.offset } else { -b.offset };
            if (a.offset - other).abs() >= least_distance {
                let swing = a.degrees.abs_diff(b.degrees) > DIRECTIONS / 2;
                let sum = a.degrees + b.degrees + if swing { DIRECTIONS } else { 0 };
                pairs.push(Pair {
                    sides: [i, j],
                    middle: sum / 2 % DIRECTIONS,
                });
            }
        }
    }
    pairs
}

/// The shape with sides a, b, c, d in order, and those sides in the order of its corners: side k
/// runs from corner k to corner k + 1.
fn close<'l>(
    a: &'l Line,
    b: &'l Line,
    c: &'l Line,
    d: &'l Line,
    w: f64,
    h: f64,
) -> Option<(Quad, [&'l Line; 4])> {
    let mut quad = [d.meet(a)?, a.meet(b)?, b.meet(c)?, c.meet(d)?];
    let mut sides = [a, b, c, d];
    if area(&quad) < 0.0 {
        quad = [quad[0], quad[3], quad[2], quad[1]];
        sides = [d, c, b, a];
    }
    let (most_x, most_y) = ((0.5 + MOST_OUTSIDE) * w, (0.5 + MOST_OUTSIDE) * h);
    let inside = quad
        .iter()
        .all(|&(x, y)| x.abs() <= most_x && y.abs() <= most_y);
    (inside && area(&quad) >= LEAST_AREA * w * h && is_plausible(&quad)).then_some((quad, sides))
}

/// How far along each side an edge is seen, less what goes on past the corners: a sheet ends
/// there, a shadow or a plank does not.
fn support(sides: &[&Line; 4], quad: &Quad) -> f32 {
    let mut sum = 0.0;
    let mut least = 1.0_f32;
    for (k, line) in sides.iter().enumerate() {
        let (from, to) = (line.place(quad[k]), line.place(quad[(k + 1) % 4]));
        let past = 0.08 * (to - from);
        // What lies outside the photograph says nothing, but a side must be seen for the most part.
        let (first, last) = line.within(from, to);
        let shown = ((last - first) / (to - from).abs().max(1.0)).clamp(0.0, 1.0) as f32;
        let seen = line.mean_support(first, last) * (shown / LEAST_SHOWN).min(1.0);
        let beyond = 0.5
            * (line.mean_support(from - past, from - 0.15 * past)
                + line.mean_support(to + 0.15 * past, to + past));
        let side = seen - 0.25 * beyond;
        sum += side;
        least = least.min(side);
    }
    0.25 * sum + 0.6 * least
}
