//! A sheet that may bend, seen by a camera whose lens may distort.
//!
//! The sheet is never stretched: it bends along one of its sides only, as an open book or a curled
//! page does, so that lengths along it are kept. The camera is a pinhole with one term of radial
//! distortion (Brown 1966).

/// How many numbers describe a view.
pub(super) const PARAMETERS: usize = 15;

/// Along which of its sides a sheet bends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bends {
    /// From left to right: rules become curves, columns stay straight.
    Across,
    /// From top to bottom.
    Down,
}

/// The numbers of a view, all about 1 in size: turn (vector part of a quaternion), place, focal
/// length, distortion, middle of the lens, proportion of the sheet, bend.
pub(super) type Numbers = [f64; PARAMETERS];

/// Standard deviations that are expected before anything is seen. Of the turn and the place
/// nothing is expected.
const USUAL: Numbers = [
    f64::INFINITY,
    f64::INFINITY,
    f64::INFINITY,
    f64::INFINITY,
    f64::INFINITY,
    f64::INFINITY,
    // Focal lengths of hand-held cameras: 0.6 to 1 long sides of the picture.
    0.2,
    // Corners of the picture drawn in or out by 3 %.
    0.03,
    // Pictures that were cut are seen past their middle, in half diagonals.
    0.04,
    0.04,
    // ISO 216 allows 2 mm in 297.
    0.005,
    // Slopes of the bent sheet, first to fourth degree.
    0.10,
    0.07,
    0.04,
    0.03,
];

/// Expected focal length, long sides of the picture (26 mm on a 36 mm wide frame).
const FOCAL: f64 = 0.75;

/// The size of a photograph, as the lens sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Film {
    middle: (f64, f64),
    half_diagonal: f64,
    focal: f64,
}

impl Film {
    /// Of a picture of so many pixels.
    pub fn of((width, height): (u32, u32)) -> Self {
        let (w, h) = (f64::from(width), f64::from(height));
        Self {
            middle: (0.5 * (w - 1.0), 0.5 * (h - 1.0)),
            half_diagonal: 0.5 * (w * w + h * h).sqrt(),
            focal: FOCAL * w.max(h),
        }
    }
}

type Rotation = [[f64; 3]; 3];

/// Nodes of the bent sheet.
const NODES: usize = 48;

/// How a sheet lies before a camera.
#[derive(Debug, Clone)]
pub(super) struct View {
    film: Film,
    size: (f64, f64),
    bends: Bends,
    start: Rotation,
    distance: f64,
    pub numbers: Numbers,
}

impl View {
    /// The view of a flat sheet of `size` mm whose corners are seen at `corners`, for a usual
    /// lens; `None` where they make no such view.
    pub fn flat(
        film: Film,
        size: (f64, f64),
        to_photo: &super::Homography,
        bends: Bends,
    ) -> Option<Self> {
        let h = &to_photo.0;
        let (w2, h2) = (0.5 * size.0, 0.5 * size.1);
        // Columns of the mapping from the sheet's middle, on a film at distance 1.
        let ray = |a: f64, b: f64, c: f64| {
            [
                (a - film.middle.0 * c) / film.focal,
                (b - film.middle.1 * c) / film.focal,
                c,
            ]
        };
        let right = ray(h[0], h[3], h[6]);
        let down = ray(h[1], h[4], h[7]);
        let place: [f64; 3] = {
            let edge = ray(h[2], h[5], h[8]);
            core::array::from_fn(|k| w2 * right[k] + h2 * down[k] + edge[k])
        };
        let unit = (length(right) * length(down)).sqrt();
        let unit = if place[2] < 0.0 { -unit } else { unit };
        let right = scaled(right, 1.0 / unit);
        let down = scaled(down, 1.0 / unit);
        let place = scaled(place, 1.0 / unit);
        let away = cross(right, down);
        let away = scaled(away, 1.0 / length(away));
        // The nearest turn: both sides moved alike until they are square to each other.
        let (sum, difference) = (added(right, down), added(right, scaled(down, -1.0)));
        let (sum, difference) = (
            scaled(sum, 1.0 / length(sum)),
            scaled(difference, 1.0 / length(difference)),
        );
        let half = core::f64::consts::FRAC_1_SQRT_2;
        let right = scaled(added(sum, difference), half);
        let down = scaled(added(sum, scaled(difference, -1.0)), half);
        let distance = place[2];
        let mut numbers = [0.0; PARAMETERS];
        for k in 0..3 {
            numbers[3 + k] = place[k] / distance;
        }
        let sound = distance > 0.0
            && numbers
                .iter()
                .chain(&right)
                .chain(&down)
                .all(|v| v.is_finite());
        sound.then_some(Self {
            film,
            size,
            bends,
            start: [right, down, away],
            distance,
            numbers,
        })
    }

    /// The same view with other numbers.
    pub fn with(&self, numbers: Numbers) -> Self {
        Self {
            numbers,
            ..self.clone()
        }
    }

    /// How unusual the numbers are, one part each; nothing for those of which nothing is expected.
    pub fn unusual(&self) -> Numbers {
        core::array::from_fn(|k| self.numbers[k] / USUAL[k])
    }

    /// How unusual one more of a number is.
    pub fn usual(k: usize) -> f64 {
        1.0 / USUAL[k]
    }

    /// Everything that a point's place needs, worked out once.
    pub fn lens(&self) -> Lens {
        let n = &self.numbers;
        Lens {
            rotation: turned(&self.start, [n[0], n[1], n[2]]),
            place: scaled([n[3], n[4], n[5]], self.distance),
            focal: self.film.focal / self.film.half_diagonal * crate::maths::exp(n[6]),
            distortion: n[7],
            past: (n[8], n[9]),
            film: self.film,
            stretch: (1.0 + n[10]).sqrt(),
            size: self.size,
            bends: self.bends,
            shape: Shape::new(
                match self.bends {
                    Bends::Across => self.size.0,
                    Bends::Down => self.size.1,
                },
                [n[11], n[12], n[13], n[14]],
            ),
        }
    }
}

/// A view made ready for many points.
pub(super) struct Lens {
    rotation: Rotation,
    place: [f64; 3],
    /// Half diagonals.
    focal: f64,
    distortion: f64,
    past: (f64, f64),
    film: Film,
    stretch: f64,
    size: (f64, f64),
    bends: Bends,
    shape: Shape,
}

impl Lens {
    /// Where a point of the sheet, mm from its top left corner, is seen, photograph pixels.
    pub fn project(&self, x: f64, y: f64) -> (f64, f64) {
        let (right, down, away) = match self.bends {
            Bends::Across => {
                let (along, up) = self.shape.at(x);
                (along, y - 0.5 * self.size.1, up)
            }
            Bends::Down => {
                let (along, up) = self.shape.at(y);
                (x - 0.5 * self.size.0, along, up)
            }
        };
        let (right, down) = (right * self.stretch, down / self.stretch);
        let [r, d, a] = &self.rotation;
        let p: [f64; 3] =
            core::array::from_fn(|k| r[k] * right + d[k] * down + a[k] * away + self.place[k]);
        let depth = p[2].max(1e-6);
        let (u, v) = (
            p[0] / depth * self.focal - self.past.0,
            p[1] / depth * self.focal - self.past.1,
        );
        let bent = 1.0 + self.distortion * (u * u + v * v);
        (
            (u * bent + self.past.0) * self.film.half_diagonal + self.film.middle.0,
            (v * bent + self.past.1) * self.film.half_diagonal + self.film.middle.1,
        )
    }
}

/// The profile of a bent sheet: how far along and how far out of the plane a place lies.
struct Shape {
    length: f64,
    nodes: Vec<(f64, f64)>,
}

impl Shape {
    /// From the slopes: sums of Legendre's polynomials of first to fourth degree over the length.
    fn new(length: f64, slopes: [f64; 4]) -> Self {
        let rise = |t: f64| {
            let t2 = t * t;
            let p2 = 0.5 * (3.0 * t2 - 1.0);
            let p3 = 0.5 * t * (5.0 * t2 - 3.0);
            let p4 = 0.125 * (35.0 * t2 * t2 - 30.0 * t2 + 3.0);
            (slopes[0] * t + slopes[1] * p2 + slopes[2] * p3 + slopes[3] * p4).clamp(-0.9, 0.9)
        };
        let step = length / NODES as f64;
        let mut at = (0.0, 0.0);
        let mut nodes = vec![at];
        for k in 0..NODES {
            let s = rise((2 * k + 1) as f64 / NODES as f64 - 1.0);
            at = (at.0 + step * (1.0 - s * s).sqrt(), at.1 + step * s);
            nodes.push(at);
        }
        let middle = nodes[NODES / 2];
        for node in &mut nodes {
            *node = (node.0 - middle.0, node.1 - middle.1);
        }
        Self { length, nodes }
    }

    /// Along and out of the plane, from the middle; past the ends it goes on straight.
    fn at(&self, along: f64) -> (f64, f64) {
        let place = along / self.length * NODES as f64;
        let k = (place.max(0.0) as usize).min(NODES - 1);
        let t = place - k as f64;
        let (a, b) = (self.nodes[k], self.nodes[k + 1]);
        // A parabola through the neighbours' chords keeps the curve smooth between nodes.
        let bend = if (1..NODES - 1).contains(&k) && (0.0..=1.0).contains(&t) {
            let (before, after) = (self.nodes[k - 1], self.nodes[k + 2]);
            let curve = |p: f64, q: f64, r: f64, s: f64| (p - q - r + s) * 0.25 * t * (t - 1.0);
            (
                curve(before.0, a.0, b.0, after.0),
                curve(before.1, a.1, b.1, after.1),
            )
        } else {
            (0.0, 0.0)
        };
        (
            a.0 + t * (b.0 - a.0) + bend.0,
            a.1 + t * (b.1 - a.1) + bend.1,
        )
    }
}

/// A rotation turned a little further.
fn turned(rotation: &Rotation, [x, y, z]: [f64; 3]) -> Rotation {
    let w = 1.0 / (1.0 + x * x + y * y + z * z).sqrt();
    let (x, y, z) = (x * w, y * w, z * w);
    let rows = [
        [
            1.0 - 2.0 * (y * y + z * z),
            2.0 * (x * y - w * z),
            2.0 * (x * z + w * y),
        ],
        [
            2.0 * (x * y + w * z),
            1.0 - 2.0 * (x * x + z * z),
            2.0 * (y * z - w * x),
        ],
        [
            2.0 * (x * z - w * y),
            2.0 * (y * z + w * x),
            1.0 - 2.0 * (x * x + y * y),
        ],
    ];
    rotation.map(|axis| rows.map(|row| row[0] * axis[0] + row[1] * axis[1] + row[2] * axis[2]))
}

fn length(a: [f64; 3]) -> f64 {
    (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]).sqrt()
}

fn scaled(a: [f64; 3], by: f64) -> [f64; 3] {
    a.map(|v| v * by)
}

fn added(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    core::array::from_fn(|k| a[k] + b[k])
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}
