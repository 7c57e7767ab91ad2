//! Straight edges of the small photograph, by a Hough transform that lets each edge pixel vote
//! only near its own direction.

use super::small::{Colour, Picture, Small};

/// Directions of normals, one degree apart.
pub(super) const DIRECTIONS: usize = 180;
/// Lines kept.
const MOST_LINES: usize = 44;
/// Gradient, levels a pixel, above which an edge is as good as any.
const STRONG: f32 = 5.0;
/// Gradient below which nothing is an edge.
const WEAK: f32 = 0.7;
/// How far, small pixels, a bent or blurred edge may lie from its line and still support it.
const REACH: i32 = 3;
/// How far apart, degrees, an edge pixel and the line it supports may point.
const TURN: usize = 10;

/// Unit vectors for every whole degree from 0 to 179, by repeated turning, so that they are the
/// same bits on every platform.
pub(super) fn unit_vectors() -> [(f64, f64); DIRECTIONS] {
    // cos 1° and sin 1°.
    const STEP: (f64, f64) = (0.999_847_695_156_391_2, 0.017_452_406_437_283_51);
    let mut at = (1.0, 0.0);
    core::array::from_fn(|_| {
        let now = at;
        at = (
            now.0 * STEP.0 - now.1 * STEP.1,
            now.0 * STEP.1 + now.1 * STEP.0,
        );
        now
    })
}

/// A straight line: all points p with p · normal = offset, from the picture's middle.
pub(super) struct Line {
    /// Direction of the normal, degrees, 0 to 179.
    pub degrees: usize,
    /// Unit normal.
    pub normal: (f64, f64),
    /// Signed distance from the picture's middle, small pixels.
    pub offset: f64,
    /// Running sum of the support along the line, one entry a pixel from `-reach`.
    support: Vec<f32>,
    reach: f64,
    /// Half the picture's width and height.
    half: (f64, f64),
}

impl Line {
    /// Mean support, 0 to 1, between two places along the line.
    pub fn mean_support(&self, from: f64, to: f64) -> f32 {
        let index =
            |t: f64| ((t + self.reach).round().max(0.0) as usize).min(self.support.len() - 1);
        let (a, b) = (index(from.min(to)), index(from.max(to)));
        if a == b {
            return 0.0;
        }
        (self.support[b] - self.support[a]) / (b - a) as f32
    }

    /// The part of a stretch of the line that lies on the picture, from its lower end; empty
    /// stretches end where they begin.
    pub fn within(&self, from: f64, to: f64) -> (f64, f64) {
        let (mut low, mut high) = (from.min(to), from.max(to));
        let (nx, ny) = self.normal;
        for (start, step, half) in [
            (self.offset * nx, -ny, self.half.0),
            (self.offset * ny, nx, self.half.1),
        ] {
            if step.abs() > 1e-9 {
                let (a, b) = ((-half - start) / step, (half - start) / step);
                low = low.max(a.min(b));
                high = high.min(a.max(b));
            } else if start.abs() > half {
                high = low;
            }
        }
        (low, high.max(low))
    }

    /// The place of a point along the line.
    pub fn place(&self, (x, y): (f64, f64)) -> f64 {
        x * -self.normal.1 + y * self.normal.0
    }

    /// Where two lines meet, from the picture's middle.
    pub fn meet(&self, other: &Self) -> Option<(f64, f64)> {
        let ((a, b), (c, d)) = (self.normal, other.normal);
        let determinant = a * d - b * c;
        (determinant.abs() > 0.1).then(|| {
            (
                (self.offset * d - other.offset * b) / determinant,
                (a * other.offset - c * self.offset) / determinant,
            )
        })
    }
}

/// Edge pixels: strength 0 to 1 (0: none) and direction of the gradient in whole degrees.
struct Edges {
    width: usize,
    height: usize,
    strength: Vec<f32>,
    degrees: Vec<u8>,
}

/// The strongest straight edges, best first.
#[tracing::instrument(level = "trace", name = "edges: lines", skip_all)]
pub(super) fn find_lines(small: &Small) -> Vec<Line> {
    let vectors = unit_vectors();
    let edges = find_edges(small);
    let (w, h) = (edges.width as f64, edges.height as f64);
    let reach = (0.5 * (w * w + h * h).sqrt()).ceil();
    let bins = 2 * reach as usize + 3;
    let votes = vote(&edges, &vectors, reach, bins);
    peaks(&votes, bins)
        .into_iter()
        .map(|(degrees, bin)| {
            let normal = vectors[degrees];
            let offset = bin as f64 - reach - 1.0;
            let support = support(&edges, degrees, normal, offset, reach);
            Line {
                degrees,
                normal,
                offset,
                support,
                reach,
                half: (0.5 * w, 0.5 * h),
            }
        })
        .collect()
}

fn find_edges(small: &Small) -> Edges {
    let (width, height) = small.size();
    let (gradient, degrees) = gradients(small);
    let mut strength = vec![0.0; width * height];
    // From a pixel to the next one in each direction.
    let steps =
        unit_vectors().map(|(nx, ny)| ny.round() as isize * width as isize + nx.round() as isize);
    for y in 2..height.saturating_sub(2) {
        for x in 2..width.saturating_sub(2) {
            let i = y * width + x;
            let g = gradient[i];
            if g < WEAK {
                continue;
            }
            let step = steps[usize::from(degrees[i])];
            let (before, after) = (
                gradient[i.wrapping_add_signed(-step)],
                gradient[i.wrapping_add_signed(step)],
            );
            if g >= before && g > after {
                strength[i] = (g / STRONG).min(1.0);
            }
        }
    }
    Edges {
        width,
        height,
        strength,
        degrees,
    }
}

/// Length of the gradient, and its direction where it is an edge's, over all three colour planes (Di Zenzo 1986).
fn gradients(small: &Small) -> (Vec<f32>, Vec<u8>) {
    let (width, height) = small.size();
    let smooth = smoothed(small);
    let mut length = vec![0.0; width * height];
    let mut degrees = vec![0; width * height];
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let i = y * width + x;
            let (mut xx, mut xy, mut yy) = (0.0_f32, 0.0_f32, 0.0_f32);
            let (right, left) = (smooth[i + 1], smooth[i - 1]);
            let (below, above) = (smooth[i + width], smooth[i - width]);
            for plane in 0..right.len() {
                let gx = 0.5 * (right[plane] - left[plane]);
                let gy = 0.5 * (below[plane] - above[plane]);
                xx += gx * gx;
                xy += gx * gy;
                yy += gy * gy;
            }
            let (half, spread) = (0.5 * (xx + yy), 0.5 * (xx - yy));
            let root = (spread * spread + xy * xy).sqrt();
            length[i] = (half + root).max(0.0).sqrt();
            if length[i] < WEAK {
                continue;
            }
            // The leading eigenvector, from whichever of its two forms is the longer.
            let (vx, vy) = if spread >= 0.0 {
                (spread + root, xy)
            } else {
                (xy, root - spread)
            };
            degrees[i] = whole_degrees(vx, vy);
        }
    }
    (length, degrees)
}

/// Every pixel with its neighbours, by the binomial weights 1, 4, 6, 4, 1 across and down.
fn smoothed(small: &Small) -> Vec<Colour> {
    let (width, height) = small.size();
    let mut across = Vec::with_capacity(width * height);
    for row in small.colours().chunks_exact(width) {
        let near = |x: usize, step: isize| row[x.saturating_add_signed(step).min(width - 1)];
        let middle = row
            .windows(5)
            .map(|w| binomial([w[0], w[1], w[2], w[3], w[4]]));
        let end = |x: usize| binomial([-2, -1, 0, 1, 2].map(|step| near(x, step)));
        let first = 2.min(width);
        let last = width.saturating_sub(2).max(first);
        across.extend((0..first).map(end));
        across.extend(middle);
        across.extend((last..width).map(end));
    }
    let row = |y: usize, step: isize| {
        let y = y.saturating_add_signed(step).min(height - 1);
        &across[y * width..(y + 1) * width]
    };
    let mut out = Vec::with_capacity(width * height);
    for y in 0..height {
        let rows = [-2, -1, 0, 1, 2].map(|step| row(y, step));
        out.extend((0..width).map(|x| binomial(rows.map(|row| row[x]))));
    }
    out
}

#[inline]
fn binomial([a, b, c, d, e]: [Colour; 5]) -> Colour {
    core::array::from_fn(|k| ((a[k] + e[k]) + 4.0 * (b[k] + d[k]) + 6.0 * c[k]) / 16.0)
}

/// Direction of a vector modulo 180°, to the nearest degree, without library trigonometry.
fn whole_degrees(x: f32, y: f32) -> u8 {
    let (ax, ay) = (x.abs(), y.abs());
    if ax.max(ay) == 0.0 {
        return 0;
    }
    let q = ax.min(ay) / ax.max(ay);
    // Arctangent on 0..1 within 0.1° (minimax quadratic form, Rajan et al. 2006).
    let small = q * (45.0 + (1.0 - q) * (14.02 + 3.79 * q));
    let first = if ay > ax { 90.0 - small } else { small };
    let turned = if (x < 0.0) == (y < 0.0) {
        first
    } else {
        180.0 - first
    };
    ((turned + 0.5) as usize % DIRECTIONS) as u8
}

fn vote(edges: &Edges, vectors: &[(f64, f64); DIRECTIONS], reach: f64, bins: usize) -> Vec<f32> {
    let mut votes = vec![0.0; DIRECTIONS * bins];
    let (cx, cy) = middle(edges);
    for y in 0..edges.height {
        for x in 0..edges.width {
            let i = y * edges.width + x;
            let s = edges.strength[i];
            if s == 0.0 {
                continue;
            }
            let (px, py) = (x as f64 - cx, y as f64 - cy);
            for turn in 0..7 {
                let d = (usize::from(edges.degrees[i]) + DIRECTIONS + turn - 3) % DIRECTIONS;
                let (nx, ny) = vectors[d];
                let bin = (px * nx + py * ny + reach + 1.5) as usize;
                votes[d * bins + bin.min(bins - 1)] += s;
            }
        }
    }
    votes
}

fn middle(edges: &Edges) -> (f64, f64) {
    (
        0.5 * (edges.width as f64 - 1.0),
        0.5 * (edges.height as f64 - 1.0),
    )
}

/// The places of the strongest sums over three neighbouring offsets, none near a stronger one.
fn peaks(votes: &[f32], bins: usize) -> Vec<(usize, usize)> {
    let mut sums = vec![0.0_f32; votes.len()];
    for (sums, votes) in sums.chunks_exact_mut(bins).zip(votes.chunks_exact(bins)) {
        for (sum, three) in sums[1..].iter_mut().zip(votes.windows(3)) {
            *sum = three[0] + three[1] + three[2];
        }
    }
    let most_of = |sums: &[f32], d: usize| {
        let sums = sums[d * bins..(d + 1) * bins].iter().enumerate();
        sums.fold(
            (0, 0.0),
            |best: (usize, f32), (b, &sum)| {
                if sum > best.1 { (b, sum) } else { best }
            },
        )
    };
    let mut best: Vec<(usize, f32)> = (0..DIRECTIONS).map(|d| most_of(&sums, d)).collect();
    let mut found = Vec::new();
    while found.len() < MOST_LINES {
        let first = (0..DIRECTIONS).fold(0, |a, b| if best[b].1 > best[a].1 { b } else { a });
        let (b, most) = best[first];
        if most < 20.0 {
            break;
        }
        found.push((first, b));
        for turn in -3_isize..=3 {
            let raw = first as isize + turn;
            let flipped = raw < 0 || raw >= DIRECTIONS as isize;
            let direction = raw.rem_euclid(DIRECTIONS as isize) as usize;
            let centre = if flipped { bins - 1 - b } else { b };
            let (low, high) = (centre.saturating_sub(5), (centre + 6).min(bins));
            sums[direction * bins + low..direction * bins + high].fill(0.0);
            best[direction] = most_of(&sums, direction);
        }
    }
    found
}

/// Running sum along a line of the best edge strength within reach of it.
fn support(edges: &Edges, degrees: usize, normal: (f64, f64), offset: f64, reach: f64) -> Vec<f32> {
    let (cx, cy) = middle(edges);
    let mut sum = 0.0;
    let mut running = vec![0.0];
    for step in 0..2 * reach as usize {
        let t = step as f64 - reach;
        let mut best = 0.0_f32;
        for side in -REACH..=REACH {
            let r = offset + f64::from(side);
            let x = cx + r * normal.0 - t * normal.1 + 0.5;
            let y = cy + r * normal.1 + t * normal.0 + 0.5;
            if x < 0.0 || y < 0.0 || x >= edges.width as f64 || y >= edges.height as f64 {
                continue;
            }
            let i = y as usize * edges.width + x as usize;
            let turn = usize::from(edges.degrees[i]).abs_diff(degrees);
            if turn.min(DIRECTIONS - turn) <= TURN {
                best = best.max(edges.strength[i]);
            }
        }
        sum += best;
        running.push(sum);
    }
    running
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_without_trigonometry_agree_with_it() {
        for k in 0..360 {
            let a = f64::from(k).to_radians();
            let found = i32::from(whole_degrees(a.cos() as f32, a.sin() as f32));
            let off = (found - k % 180).rem_euclid(180);
            assert!(off.min(180 - off) <= 1, "{k} gave {found}");
        }
        let (x, y) = unit_vectors()[137];
        let a = 137_f64.to_radians();
        assert!((x - a.cos()).abs() < 1e-13 && (y - a.sin()).abs() < 1e-13);
    }
}
