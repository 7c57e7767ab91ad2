//! The photograph made small and smooth, for the search.

use image::RgbImage;

/// Longest side of the small photograph, pixels, before rounding to a whole factor.
const LONG_SIDE: u32 = 680;
/// Half width of the window that closes over ink, small pixels (about 1.5 mm on A4).
const CLOSING: usize = 3;

/// A colour as lightness, warm-to-cool and green-to-purple; each on the scale of 8-bit levels.
pub(super) type Colour = [f32; 3];

/// Opponent colour of an RGB triple.
pub(super) fn opponent([r, g, b]: [f32; 3]) -> Colour {
    [(r + g + b) / 3.0, 0.7 * (r - b), 0.7 * (g - 0.5 * (r + b))]
}

/// Something with a colour at every point.
pub(super) trait Picture {
    /// Width and height, pixels.
    fn size(&self) -> (usize, usize);
    /// The colour at a whole pixel, which must lie inside.
    fn at(&self, x: usize, y: usize) -> Colour;

    /// Whether a point lies on the picture.
    fn holds(&self, x: f64, y: f64) -> bool {
        let (w, h) = self.size();
        x >= -0.5 && y >= -0.5 && x <= w as f64 - 0.5 && y <= h as f64 - 0.5
    }

    /// The colour between pixels, bilinear; beyond the picture its border goes on.
    fn between(&self, x: f64, y: f64) -> Colour {
        let (w, h) = self.size();
        let x = x.clamp(0.0, w as f64 - 1.001);
        let y = y.clamp(0.0, h as f64 - 1.001);
        let (i, j) = (x as usize, y as usize);
        let (s, t) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let (a, b) = (self.at(i, j), self.at(i + 1, j));
        let (c, d) = (self.at(i, j + 1), self.at(i + 1, j + 1));
        core::array::from_fn(|k| {
            let top = a[k] + s * (b[k] - a[k]);
            let bottom = c[k] + s * (d[k] - c[k]);
            top + t * (bottom - top)
        })
    }
}

impl Picture for RgbImage {
    fn size(&self) -> (usize, usize) {
        (self.width() as usize, self.height() as usize)
    }

    fn at(&self, x: usize, y: usize) -> Colour {
        let image::Rgb(rgb) = *self.get_pixel(x as u32, y as u32);
        opponent(rgb.map(f32::from))
    }
}

/// The photograph reduced by a whole factor, with thin dark strokes closed over.
pub(super) struct Small {
    /// Photograph pixels for each small pixel.
    pub factor: usize,
    highlight: f32,
    width: usize,
    height: usize,
    colours: Vec<Colour>,
}

impl Small {
    /// Reduces by averaging squares of pixels, then closes each channel.
    #[tracing::instrument(level = "trace", name = "small", skip_all)]
    pub fn of(photo: &RgbImage) -> Self {
        let longest = photo.width().max(photo.height());
        let factor = longest.div_ceil(LONG_SIDE).max(1) as usize;
        let (width, height) = (
            photo.width() as usize / factor,
            photo.height() as usize / factor,
        );
        let mut channels: [Vec<u8>; 3] = core::array::from_fn(|_| vec![0; width * height]);
        let stride = photo.width() as usize * 3;
        let raw = photo.as_raw();
        let area = (factor * factor) as u32;
        let mut sums = vec![0_u32; width * factor * 3];
        for y in 0..height {
            sums.fill(0);
            for row in raw[y * factor * stride..].chunks(stride).take(factor) {
                for (sum, &v) in sums.iter_mut().zip(row) {
                    *sum += u32::from(v);
                }
            }
            for (x, block) in sums.chunks_exact(factor * 3).enumerate() {
                for (c, channel) in channels.iter_mut().enumerate() {
                    let sum: u32 = block[c..].iter().step_by(3).sum();
                    channel[y * width + x] = ((sum + area / 2) / area) as u8;
                }
            }
        }
        for channel in &mut channels {
            extreme(channel, width, height, u8::max);
            extreme(channel, width, height, u8::min);
        }
        let colours: Vec<Colour> = (0..width * height)
            .map(|i| opponent(core::array::from_fn(|c| f32::from(channels[c][i]))))
            .collect();
        let mut light: Vec<f32> = colours.iter().map(|c| c[0]).collect();
        let high = light.len() * 19 / 20;
        let highlight = light
            .select_nth_unstable_by(high, f32::total_cmp)
            .1
            .max(1.0);
        Self {
            factor,
            highlight,
            width,
            height,
            colours,
        }
    }

    /// The lightness that 95 % of the photograph stays below.
    pub fn highlight(&self) -> f32 {
        self.highlight
    }

    /// All colours, row by row.
    pub fn colours(&self) -> &[Colour] {
        &self.colours
    }

    /// A small point in photograph pixels.
    pub fn to_photo(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let f = self.factor as f64;
        ((x + 0.5) * f - 0.5, (y + 0.5) * f - 0.5)
    }
}

impl Picture for Small {
    fn size(&self) -> (usize, usize) {
        (self.width, self.height)
    }

    fn at(&self, x: usize, y: usize) -> Colour {
        self.colours[y * self.width + x]
    }
}

/// Running extreme over a square window, rows then columns.
fn extreme(plane: &mut [u8], width: usize, height: usize, pick: impl Fn(u8, u8) -> u8) {
    let mut line = Vec::new();
    for row in plane.chunks_exact_mut(width) {
        line.clear();
        line.extend_from_slice(row);
        for away in 1..=CLOSING.min(width.saturating_sub(1)) {
            for (out, &after) in row.iter_mut().zip(&line[away..]) {
                *out = pick(*out, after);
            }
            for (out, &before) in row[away..].iter_mut().zip(&line) {
                *out = pick(*out, before);
            }
        }
    }
    let source = plane.to_vec();
    for y in 0..height {
        let out = &mut plane[y * width..(y + 1) * width];
        for near in y.saturating_sub(CLOSING)..(y + CLOSING + 1).min(height) {
            for (o, &v) in out.iter_mut().zip(&source[near * width..]) {
                *o = pick(*o, v);
            }
        }
    }
}
