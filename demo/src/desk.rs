//! What the sheet lies on, and what lies beside it.

use crate::noise::Noise;
use crate::paper::Colour;
use crate::rng::Rng;

/// A table top.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Top {
    /// Light wood.
    Pine,
    /// Dark wood.
    Walnut,
    /// A plain grey-blue cloth.
    Cloth,
    /// A white, slightly worn kitchen table.
    White,
}

/// A table top with a few things on it.
#[derive(Debug, Clone)]
pub struct Desk {
    top: Top,
    things: Vec<Thing>,
    offset: (f32, f32),
}

/// Something that lies on the table.
#[derive(Debug, Clone)]
struct Thing {
    kind: Kind,
    /// Middle, mm from the sheet's top left corner.
    at: (f32, f32),
    /// Cosine and sine of its direction.
    along: (f32, f32),
    colour: Colour,
}

#[derive(Debug, Clone, Copy)]
enum Kind {
    Pencil,
    Eraser,
    Book,
}

impl Desk {
    /// A desk whose things follow from a seed; `sheet` is the sheet's size, mm.
    pub fn new(top: Top, clutter: usize, sheet: (f64, f64), seed: u64) -> Self {
        let mut rng = Rng::new(seed, "desk");
        let offset = (
            rng.between(0.0, 200.0) as f32,
            rng.between(0.0, 200.0) as f32,
        );
        let kinds = [Kind::Pencil, Kind::Eraser, Kind::Book];
        let things = (0..clutter)
            .map(|index| {
                let kind = kinds[(index + rng.below(2)) % 3];
                Thing::new(kind, sheet, &mut rng)
            })
            .collect();
        Self {
            top,
            things,
            offset,
        }
    }

    /// Colour at a place beside the sheet, levels of 255.
    pub fn colour(&self, noise: &Noise, x: f32, y: f32) -> [f32; 3] {
        let mut colour = self.bare(noise, x + self.offset.0, y + self.offset.1);
        for thing in &self.things {
            thing.over(&mut colour, noise, x, y);
        }
        colour
    }

    fn bare(&self, noise: &Noise, x: f32, y: f32) -> [f32; 3] {
        match self.top {
            Top::Pine => wood(noise, x, y, [206.0, 170.0, 126.0], [164.0, 118.0, 76.0]),
            Top::Walnut => wood(noise, x, y, [112.0, 78.0, 56.0], [70.0, 45.0, 32.0]),
            Top::Cloth => {
                let weave = noise.at(x * 1.7, y * 0.4) * 5.0 + noise.at(x * 0.4, y * 1.7) * 5.0;
                let fold = noise.rough(x * 0.012, y * 0.012) * 14.0;
                [96.0, 112.0, 132.0].map(|channel: f32| channel + weave + fold)
            }
            Top::White => {
                let worn = noise.rough(x * 0.02, y * 0.02) * 5.0 + noise.at(x, y) * 1.5;
                [198.0, 199.0, 197.0].map(|channel: f32| channel + worn)
            }
        }
    }
}

/// Boards 95 mm wide with a grain that wanders.
fn wood(noise: &Noise, x: f32, y: f32, light: [f32; 3], dark: [f32; 3]) -> [f32; 3] {
    let board = (y / 95.0).floor();
    let within = y - board * 95.0;
    let bend = noise.at(x * 0.008 + board * 13.0, y * 0.015) * 9.0;
    let ring = noise.at(x * 0.004 + board * 37.0, (y + bend) * 0.16);
    let fine = noise.at(x * 0.05, (y + bend) * 1.1 + board * 5.0);
    let pore = noise.at(x * 0.12 + 9.0, y * 3.0).max(0.45) - 0.45;
    let tone = noise.at(board * 7.7, board * 3.1) * 0.12;
    let t = (0.45 + 0.34 * ring + 0.16 * fine + 0.5 * pore + tone).clamp(0.0, 1.0);
    let seam = if within < 0.8 { 0.72 } else { 1.0 };
    std::array::from_fn(|channel| (light[channel] + (dark[channel] - light[channel]) * t) * seam)
}

impl Thing {
    fn new(kind: Kind, (width, height): (f64, f64), rng: &mut Rng) -> Self {
        let right = rng.chance(0.6);
        let gap = match kind {
            Kind::Pencil => rng.between(9.0, 18.0),
            Kind::Eraser => rng.between(17.0, 24.0),
            Kind::Book => rng.between(118.0, 128.0),
        };
        let x = if right { width + gap } else { -gap };
        let y = height * rng.between(0.1, 0.8);
        let angle: f64 = match kind {
            Kind::Pencil => 90.0 + rng.between(-5.0, 5.0),
            Kind::Eraser => rng.between(50.0, 120.0),
            Kind::Book => rng.between(-4.0, 4.0),
        };
        let (sin, cos) = libm::sincos(angle.to_radians());
        let colours = [[0.86, 0.68, 0.18], [0.24, 0.42, 0.62], [0.66, 0.22, 0.20]];
        Self {
            kind,
            at: (x as f32, y as f32),
            along: (cos as f32, sin as f32),
            colour: match kind {
                Kind::Eraser => [0.90, 0.89, 0.88],
                _ => colours[rng.below(3)],
            },
        }
    }

    fn over(&self, colour: &mut [f32; 3], noise: &Noise, x: f32, y: f32) {
        let (dx, dy) = (x - self.at.0, y - self.at.1);
        // u runs along the thing, v across it.
        let u = dx * self.along.0 + dy * self.along.1;
        let v = dy * self.along.0 - dx * self.along.1;
        let (half_length, half_width, soft): (f32, f32, f32) = match self.kind {
            Kind::Pencil => (72.0, 3.6, 2.5),
            Kind::Eraser => (21.0, 9.0, 3.0),
            Kind::Book => (105.0, 148.0, 6.0),
        };
        // A pencil narrows to its point.
        let half_width = match self.kind {
            Kind::Pencil => half_width.min(0.5 + (half_length - u).max(0.0) * 0.2),
            _ => half_width,
        };
        let outside = (u.abs() - half_length).max(v.abs() - half_width);
        if outside > soft {
            return;
        }
        if outside > 0.0 {
            let shade = 0.55 + 0.45 * (outside / soft);
            colour.iter_mut().for_each(|channel| *channel *= shade);
            return;
        }
        let (paint, gloss) = self.paint(noise, u, v, half_length, half_width);
        *colour = paint.map(|channel| channel * 255.0 * gloss);
    }

    fn paint(&self, noise: &Noise, u: f32, v: f32, length: f32, width: f32) -> (Colour, f32) {
        match self.kind {
            Kind::Pencil => {
                let facet = [0.78, 1.05, 0.88][((v + width) / (2.0 * width) * 2.99) as usize % 3];
                let taper = (length - u) / 17.0;
                if taper < 0.18 {
                    ([0.2, 0.2, 0.22], 1.0)
                } else if taper < 1.0 {
                    ([0.85, 0.70, 0.50], facet)
                } else if u < -length + 6.0 {
                    ([0.80, 0.50, 0.48], facet)
                } else if u < -length + 13.0 {
                    ([0.70, 0.70, 0.68], facet)
                } else {
                    (self.colour, facet)
                }
            }
            Kind::Eraser => {
                let sleeve = if u < 4.0 {
                    [0.30, 0.45, 0.66]
                } else {
                    self.colour
                };
                (sleeve, 0.94 + 0.04 * noise.rough(u * 0.3, v * 0.3))
            }
            Kind::Book => {
                let edge = if width - v.abs() < 2.0 { 0.8 } else { 1.0 };
                (
                    self.colour,
                    edge * (0.9 + 0.05 * noise.rough(u * 0.05, v * 0.05)),
                )
            }
        }
    }
}
