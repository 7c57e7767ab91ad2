//! Letters from lines and arcs, whole and with one thing amiss.
//!
//! Each begins at its left edge: x to the right and y up, in heights of a short letter.

use super::{Flaw, Stroke};

/// How far a tall letter and a tail reach.
pub const TALL: f64 = 1.7;
pub const TAIL: f64 = 0.7;
/// Half the width of a round letter.
pub const RING: f64 = 0.42;
/// The right edge of a round letter, and of an arched one.
const ROUND: f64 = 2.0 * RING;
const ARCH: f64 = 0.7;
const MIDDLE: (f64, f64) = (RING, 0.5);

type Point = (f64, f64);

/// Part of an ellipse, from one angle to another, in turns from its right end by the top.
fn arc(middle: Point, half: Point, from: f64, to: f64) -> Stroke {
    (0..=32)
        .map(|k| {
            let turns = from + (to - from) * f64::from(k) / 32.0;
            let (sin, cos) = (turns * core::f64::consts::TAU).sin_cos();
            (middle.0 + half.0 * cos, middle.1 + half.1 * sin)
        })
        .collect()
}

fn line(from: Point, to: Point) -> Stroke {
    vec![from, to]
}

fn stem(x: f64, low: f64, high: f64) -> Stroke {
    line((x, low), (x, high))
}

/// A round part of a height; open, an eighth is left out about its top.
fn bowl(high: f64, open: bool) -> Stroke {
    let left_out = if open { 1.0 / 16.0 } else { 0.0 };
    let half = (RING, high / 2.0);
    arc((RING, half.1), half, 0.25 + left_out, 1.25 - left_out)
}

/// A place on a round letter, from its right end by the top, in turns.
pub fn on_ring(turns: f64) -> Point {
    arc(MIDDLE, (RING, 0.5), turns, turns)[0]
}

fn arch(x: f64) -> Stroke {
    let points = [
        (0.0, 0.6),
        (0.1, 0.88),
        (0.35, 1.0),
        (0.6, 0.9),
        (ARCH, 0.6),
        (ARCH, 0.0),
    ];
    points.map(|(dx, y)| (x + dx, y)).to_vec()
}

/// An arch upside down, that holds something from below.
fn cup() -> Stroke {
    let turned = |(x, y)| (ARCH - x, 1.0 - y);
    arch(0.0).into_iter().map(turned).collect()
}

/// A tail that ends in a hook to the left.
fn hooked_tail(x: f64, depth: f64) -> Stroke {
    let hook = depth.min(0.25);
    let mut way = vec![(x, 1.0)];
    way.extend(arc((x - 0.28, hook - depth), (0.28, hook), 1.0, 0.6));
    way
}

fn moved(stroke: Stroke, right: f64) -> Stroke {
    stroke.into_iter().map(|(x, y)| (x + right, y)).collect()
}

/// A letter's strokes, one thing amiss with it or none, for a pen of this width.
pub fn letter(c: char, flaw: Option<Flaw>, pen: f64) -> Vec<Stroke> {
    let has = |what: Flaw| flaw == Some(what);
    let tall = match flaw {
        Some(Flaw::Stunted(high)) => high,
        _ => TALL,
    };
    let tail = match flaw {
        Some(Flaw::Shallow(depth)) => depth,
        _ => TAIL,
    };
    let ring = match flaw {
        Some(Flaw::HighBowl(high)) => bowl(high, false),
        _ => bowl(1.0, has(Flaw::Open)),
    };
    let bowl_high = ring.iter().map(|p| p.1).fold(1.0, f64::max);
    let dot = |x| match flaw {
        Some(Flaw::NoDot) => None,
        Some(Flaw::LowDot(low)) => Some(stem(x, low, low + 0.15)),
        _ => Some(stem(x, 1.42, 1.45)),
    };
    let bar =
        |half: f64, x: f64| (!has(Flaw::NoBar)).then(|| line((x - half, 1.0), (x + half, 1.0)));
    let mut strokes = match c {
        'a' => vec![ring, stem(ROUND, 0.0, bowl_high)],
        'b' => vec![stem(0.0, 0.0, tall), ring],
        'c' => vec![arc(MIDDLE, (RING, 0.5), 0.12, 0.88)],
        'd' => match flaw {
            Some(Flaw::Apart(white)) => vec![ring, stem(ROUND + pen + white, 0.0, tall)],
            _ => vec![ring, stem(ROUND, 0.0, tall)],
        },
        'e' => {
            let mut way = line((0.05, 0.52), (ROUND, 0.52));
            way.extend(arc(MIDDLE, (RING, 0.5), 0.0, 0.88));
            let mut strokes = vec![way];
            if has(Flaw::Filled) {
                let rows = [0.6, 0.7, 0.8, 0.9];
                strokes.extend(rows.map(|y| line((0.15, y), (ROUND - 0.15, y))));
            }
            strokes
        }
        'f' => {
            let mut hook = arc((0.55, tall - 0.3), (0.28, 0.3), 0.12, 0.5);
            hook.push((0.27, 0.0));
            let mut strokes = vec![hook];
            strokes.extend(bar(0.3, 0.3));
            strokes
        }
        'g' => vec![ring, hooked_tail(ROUND, tail)],
        'h' => vec![stem(0.0, 0.0, tall), arch(0.0)],
        'i' => [stem(0.0, 0.0, 1.0)].into_iter().chain(dot(0.0)).collect(),
        'j' => {
            let tail = hooked_tail(0.4, tail);
            [tail].into_iter().chain(dot(0.4)).collect()
        }
        'k' => vec![
            stem(0.0, 0.0, tall),
            line((0.0, 0.4), (0.6, 1.0)),
            line((0.2, 0.55), (0.66, 0.0)),
        ],
        'l' => vec![stem(0.0, 0.0, tall)],
        'm' => vec![stem(0.0, 0.0, 1.0), arch(0.0), arch(ARCH)],
        'n' => vec![stem(0.0, 0.0, 1.0), arch(0.0)],
        'o' => vec![ring],
        'p' => vec![ring, stem(0.0, -tail, 1.0)],
        'q' => vec![ring, stem(ROUND, -tail, 1.0)],
        'r' => vec![
            stem(0.0, 0.0, 1.0),
            vec![(0.0, 0.6), (0.12, 0.85), (0.32, 1.0), (0.5, 0.93)],
        ],
        's' => {
            let mut way = arc((0.33, 0.75), (0.3, 0.25), 0.1, 0.75);
            way.extend(arc((0.33, 0.25), (0.33, 0.25), 0.25, -0.4));
            vec![way]
        }
        't' => {
            let high = if tall < TALL { tall } else { 1.35 };
            [stem(0.28, 0.0, high)]
                .into_iter()
                .chain(bar(0.28, 0.28))
                .collect()
        }
        'u' => vec![stem(ARCH, 0.0, 1.0), cup()],
        'v' => vec![vec![(0.0, 1.0), (0.36, 0.0), (0.72, 1.0)]],
        'w' => vec![vec![
            (0.0, 1.0),
            (0.28, 0.0),
            (0.56, 0.95),
            (0.84, 0.0),
            (1.12, 1.0),
        ]],
        'x' => vec![line((0.0, 1.0), (0.7, 0.0)), line((0.0, 0.0), (0.7, 1.0))],
        'y' => vec![cup(), hooked_tail(ARCH, tail)],
        'z' => vec![vec![(0.0, 1.0), (0.68, 1.0), (0.0, 0.0), (0.7, 0.0)]],
        other => panic!("the pen knows no {other}"),
    };
    if has(Flaw::Mirrored) {
        let right = strokes.iter().flatten().map(|p| p.0).fold(0.0, f64::max);
        for point in strokes.iter_mut().flatten() {
            point.0 = right - point.0;
        }
    }
    // A hook may reach further to the left than its letter begins.
    let left = strokes.iter().flatten().map(|p| p.0).fold(0.0, f64::min);
    strokes
        .into_iter()
        .map(|stroke| moved(stroke, -left))
        .collect()
}
