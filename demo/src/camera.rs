//! The photograph: a sheet on a desk, seen by a camera held in the hand.

use image::codecs::jpeg::JpegEncoder;

use crate::desk::Desk;
use crate::exif::{self, Exif};
use crate::light::Light;
use crate::noise::Noise;
use crate::plane::{self, Homography};
use crate::raster::Layer;
use crate::rng::mix;

/// Where the camera is and what it is like.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// Pixels across, upright.
    pub width: u32,
    /// Pixels down, upright.
    pub height: u32,
    /// Turn of the sheet in the picture, degrees clockwise.
    pub turn: f64,
    /// Lean of the camera away from straight above: forwards and sideways, degrees.
    pub tilt: (f64, f64),
    /// Share of the picture that the sheet fills, the longer way.
    pub fill: f64,
    /// Shift of the sheet's middle from the picture's, as shares of its width and height.
    pub shift: (f64, f64),
    /// Standard deviation of the blur, px.
    pub blur: f64,
    /// Standard deviation of the sensor's noise, levels of 255.
    pub noise: f32,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
    /// What the camera writes beside the picture.
    pub exif: Option<Exif>,
}

impl Camera {
    /// A camera held nearly straight above.
    pub fn above(width: u32, height: u32) -> Self {
        Self {
            width,
            height,
            turn: 0.0,
            tilt: (0.0, 0.0),
            fill: 0.88,
            shift: (0.0, 0.0),
            blur: 0.6,
            noise: 1.6,
            quality: 85,
            exif: None,
        }
    }

    /// From millimetres of a sheet of this size to pixels of the upright picture.
    pub fn view(&self, sheet: (f64, f64)) -> Homography {
        let frame = (f64::from(self.width), f64::from(self.height));
        // About the angle of view of a phone's main camera: 26 mm on 36 mm of film.
        let focal = 0.74 * frame.0.max(frame.1);
        let at = |distance: f64| {
            plane::pinhole(
                sheet, frame, focal, distance, self.tilt, self.turn, self.shift,
            )
        };
        let filled = |distance: f64| {
            plane::corners(sheet)
                .into_iter()
                .map(|corner| at(distance).apply(corner))
                .map(|(x, y)| {
                    let across = (x - frame.0 * (0.5 + self.shift.0)).abs() / frame.0;
                    let down = (y - frame.1 * (0.5 + self.shift.1)).abs() / frame.1;
                    2.0 * across.max(down)
                })
                .fold(0.0, f64::max)
        };
        let (mut near, mut far) = (sheet.0.max(sheet.1) * 0.6, sheet.0.max(sheet.1) * 8.0);
        for _ in 0..60 {
            let middle = (near + far) / 2.0;
            if filled(middle) > self.fill {
                near = middle;
            } else {
                far = middle;
            }
        }
        at(far)
    }
}

/// What lies around the sheet and how it is lit.
pub struct Scene<'a> {
    /// The sheet.
    pub sheet: &'a Layer,
    /// Its width and height, mm.
    pub size: (f64, f64),
    /// What it lies on.
    pub desk: &'a Desk,
    /// The light.
    pub light: &'a Light,
    /// Chance for surfaces.
    pub noise: &'a Noise,
    /// Seed of the sensor's noise.
    pub seed: u64,
}

/// Takes the picture: the bytes of a JPEG.
pub fn photograph(camera: &Camera, scene: &Scene<'_>) -> Vec<u8> {
    let mut pixels = expose(camera, scene);
    blur(&mut pixels, camera.width as usize, camera.blur);
    grain(&mut pixels, camera, scene.seed);
    let upright = image::RgbImage::from_raw(camera.width, camera.height, pixels)
        .unwrap_or_else(|| image::RgbImage::new(camera.width, camera.height));
    let stored = match &camera.exif {
        Some(exif) => exif::as_stored(upright, exif.orientation),
        None => upright,
    };
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, camera.quality)
        .encode_image(&stored)
        .expect("writing to memory does not fail");
    match &camera.exif {
        Some(exif) => exif::insert(&jpeg, exif),
        None => jpeg,
    }
}

/// Every pixel of the upright picture, without blur and noise.
fn expose(camera: &Camera, scene: &Scene<'_>) -> Vec<u8> {
    let (width, height) = (camera.width as usize, camera.height as usize);
    let back = camera.view(scene.size).inverse();
    let lit = scene.light.over(width, height);
    let mut pixels = vec![0; width * height * 3];
    each_row(&mut pixels, width * 3, |row, line| {
        for (column, pixel) in line.chunks_exact_mut(3).enumerate() {
            let at = back.apply((column as f64, row as f64));
            let (x, y) = (at.0 as f32, at.1 as f32);
            let light = lit.at(column, row);
            let seen = surface(scene, x, y);
            for ((channel, colour), cast) in pixel.iter_mut().zip(seen).zip(scene.light.cast) {
                *channel = (colour * light * cast).clamp(0.0, 255.0) as u8;
            }
        }
    });
    pixels
}

/// Colour of sheet or desk at a place on their plane, levels of 255.
fn surface(scene: &Scene<'_>, x: f32, y: f32) -> [f32; 3] {
    let (width, height) = (scene.size.0 as f32, scene.size.1 as f32);
    // Distance to the sheet's edge, + inside.
    let inside = x.min(width - x).min(y.min(height - y));
    if inside > 0.15 {
        return sample(scene.sheet, x, y);
    }
    let (dx, dy) = ((-x).max(x - width).max(0.0), (-y).max(y - height).max(0.0));
    let away = (dx * dx + dy * dy).sqrt();
    // The sheet's own thin shadow falls to the side away from the light.
    let side = if x > width || y > height { 0.34 } else { 0.12 };
    let shade = 1.0 - side / (1.0 + away * away * 0.5);
    let desk = scene
        .desk
        .colour(scene.noise, x, y)
        .map(|channel| channel * shade);
    if inside < -0.15 {
        return desk;
    }
    let paper = sample(scene.sheet, x.clamp(0.0, width), y.clamp(0.0, height));
    let share = (inside + 0.15) / 0.3;
    std::array::from_fn(|channel| desk[channel] + (paper[channel] - desk[channel]) * share)
}

fn sample(sheet: &Layer, x: f32, y: f32) -> [f32; 3] {
    let scale = sheet.px_per_mm as f32;
    let u = (x * scale - 0.5).clamp(0.0, sheet.width as f32 - 1.001);
    let v = (y * scale - 0.5).clamp(0.0, sheet.height as f32 - 1.001);
    let (column, row) = (u as usize, v as usize);
    let (s, t) = (u - column as f32, v - row as f32);
    let first = (row * sheet.width + column) * 3;
    let below = first + sheet.width * 3;
    let pixels = &sheet.pixels;
    std::array::from_fn(|channel| {
        let (a, b) = (
            f32::from(pixels[first + channel]),
            f32::from(pixels[first + channel + 3]),
        );
        let (c, d) = (
            f32::from(pixels[below + channel]),
            f32::from(pixels[below + channel + 3]),
        );
        let above = a + (b - a) * s;
        above + (c + (d - c) * s - above) * t
    })
}

/// Runs over the rows on every core; rows do not depend on each other, so neither does the result
/// on how many cores there are.
fn each_row(pixels: &mut [u8], row_bytes: usize, work: impl Fn(usize, &mut [u8]) + Sync) {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let rows = pixels.len() / row_bytes;
    let band = rows.div_ceil(cores).max(1);
    std::thread::scope(|scope| {
        for (index, chunk) in pixels.chunks_mut(band * row_bytes).enumerate() {
            let work = &work;
            scope.spawn(move || {
                for (row, line) in chunk.chunks_exact_mut(row_bytes).enumerate() {
                    work(index * band + row, line);
                }
            });
        }
    });
}

/// Gaussian blur, first along rows, then along columns.
fn blur(pixels: &mut [u8], width: usize, sigma: f64) {
    if sigma < 0.2 {
        return;
    }
    let reach = (sigma * 2.6).ceil() as usize;
    let weight = |step: usize| libm::exp(-((step * step) as f64) / (2.0 * sigma * sigma));
    let total = 1.0 + 2.0 * (1..=reach).map(weight).sum::<f64>();
    let kernel: Vec<u32> = (0..=reach)
        .map(|step| (weight(step) / total * 65_536.0 + 0.5) as u32)
        .collect();
    let row_bytes = width * 3;
    let source = pixels.to_vec();
    each_row(pixels, row_bytes, |row, line| {
        smooth(line, &kernel, |index, step| {
            let row_start = row * row_bytes;
            let (left, right) = (index.checked_sub(step * 3), index + step * 3);
            let left = left.unwrap_or(index % 3);
            let right = if right < row_bytes {
                right
            } else {
                row_bytes - 3 + index % 3
            };
            (source[row_start + left], source[row_start + right])
        });
    });
    let source = pixels.to_vec();
    let rows = source.len() / row_bytes;
    each_row(pixels, row_bytes, |row, line| {
        smooth(line, &kernel, |index, step| {
            let (above, below) = (row.saturating_sub(step), (row + step).min(rows - 1));
            (
                source[above * row_bytes + index],
                source[below * row_bytes + index],
            )
        });
    });
}

fn smooth(line: &mut [u8], kernel: &[u32], pair: impl Fn(usize, usize) -> (u8, u8)) {
    for (index, value) in line.iter_mut().enumerate() {
        let mut sum = kernel[0] * u32::from(*value) + 32_768;
        for (step, weight) in kernel.iter().enumerate().skip(1) {
            let (before, after) = pair(index, step);
            sum += weight * (u32::from(before) + u32::from(after));
        }
        *value = (sum >> 16).min(255) as u8;
    }
}

/// The sensor's noise: mostly brightness, a little colour.
fn grain(pixels: &mut [u8], camera: &Camera, seed: u64) {
    let row_bytes = camera.width as usize * 3;
    // The sum of four bytes is close to normal, with a deviation of 148.
    let four = |bits: u32| {
        let sum: u32 = bits.to_le_bytes().iter().map(|byte| u32::from(*byte)).sum();
        (sum as f32 - 510.0) / 148.0
    };
    each_row(pixels, row_bytes, |row, line| {
        for (column, pixel) in line.chunks_exact_mut(3).enumerate() {
            let bits = mix(seed ^ ((row as u64) << 32 | column as u64).wrapping_mul(0x9e37_79b9));
            let brightness = four(bits as u32) * camera.noise;
            let colour = four((bits >> 32) as u32) * camera.noise * 0.35;
            for (channel, cast) in pixel.iter_mut().zip([colour, 0.0, -colour]) {
                *channel = (f32::from(*channel) + brightness + cast + 0.5).clamp(0.0, 255.0) as u8;
            }
        }
    });
}
