//! Uneven light: a window to one side, a shadow, darker corners.

/// The light on the scene.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// Brightness in the middle, about 1.
    pub level: f32,
    /// Gain of red, green and blue: warm lamps and cool windows.
    pub cast: [f32; 3],
    /// Fall of brightness across the picture.
    pub fall: f32,
    /// Direction it falls in, degrees clockwise from rightwards.
    pub towards: f64,
    /// Loss of brightness in the corners.
    pub vignette: f32,
    /// Shadows, one upon the other.
    pub shadows: Vec<Shadow>,
}

/// A soft-edged shadow over a half of the picture, or of something round above it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shadow {
    /// Middle of a round shadow, or a point on the edge of a straight one; shares of the picture.
    pub at: (f32, f32),
    /// Radii of a round one; `None` for a straight edge.
    pub round: Option<(f32, f32)>,
    /// Direction into a straight one, degrees clockwise from rightwards.
    pub towards: f64,
    /// Share of the light taken away.
    pub strength: f32,
    /// Width of the soft edge, as a share of the picture.
    pub soft: f32,
}

impl Light {
    /// Even daylight.
    pub fn even() -> Self {
        Self {
            level: 0.93,
            cast: [1.0, 1.0, 1.0],
            fall: 0.06,
            towards: 20.0,
            vignette: 0.06,
            shadows: Vec::new(),
        }
    }

    /// Brightness over a picture, worked out on a coarse grid: light changes slowly.
    pub fn over(&self, width: usize, height: usize) -> Lit {
        let (columns, rows) = (width / STEP + 2, height / STEP + 2);
        let (sin, cos) = libm::sincos(self.towards.to_radians());
        let mut values = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                let x = (column * STEP) as f32 / width as f32;
                let y = (row * STEP) as f32 / height as f32;
                let (u, v) = (x - 0.5, y - 0.5);
                let along = u * cos as f32 + v * sin as f32;
                let corner = (u * u + v * v) * 2.0;
                let shadow: f32 = self
                    .shadows
                    .iter()
                    .map(|shadow| shadow.kept(x, y))
                    .product();
                values.push(
                    self.level
                        * (1.0 - self.fall * along)
                        * (1.0 - self.vignette * corner * corner)
                        * shadow,
                );
            }
        }
        Lit { columns, values }
    }
}

impl Shadow {
    fn kept(&self, x: f32, y: f32) -> f32 {
        let (dx, dy) = (x - self.at.0, y - self.at.1);
        let depth = match self.round {
            Some((a, b)) => {
                let radius = ((dx / a) * (dx / a) + (dy / b) * (dy / b)).sqrt();
                (1.0 - radius) * a.min(b)
            }
            None => {
                let (sin, cos) = libm::sincos(self.towards.to_radians());
                let (sin, cos) = (sin as f32, cos as f32);
                let along = -dx * sin + dy * cos;
                let wave = 0.02 * libm::sinf(along * 9.0) + 0.012 * libm::sinf(along * 23.0 + 1.0);
                dx * cos + dy * sin + wave
            }
        };
        let t = (depth / self.soft + 0.5).clamp(0.0, 1.0);
        1.0 - self.strength * t * t * (3.0 - 2.0 * t)
    }
}

const STEP: usize = 16;

/// Brightness over one picture.
pub struct Lit {
    columns: usize,
    values: Vec<f32>,
}

impl Lit {
    /// Brightness at a pixel.
    pub fn at(&self, column: usize, row: usize) -> f32 {
        let first = row / STEP * self.columns + column / STEP;
        let (s, t) = (
            (column % STEP) as f32 / STEP as f32,
            (row % STEP) as f32 / STEP as f32,
        );
        let v = &self.values;
        let above = v[first] + (v[first + 1] - v[first]) * s;
        let next = first + self.columns;
        let below = v[next] + (v[next + 1] - v[next]) * s;
        above + (below - above) * t
    }
}
