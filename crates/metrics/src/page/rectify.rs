//! The sheet cut out of the photograph, resampled once.

use image::{GrayImage, RgbImage};

use super::Homography;

/// Densities that a page picture may have, pixels for each millimetre.
const DENSITIES: [u32; 4] = [14, 12, 10, 8];

/// The densest page picture that the photograph still fills; never below the least.
pub(super) fn density(photo_px_per_mm: f64) -> u32 {
    DENSITIES
        .into_iter()
        .find(|&d| f64::from(d) <= photo_px_per_mm)
        .unwrap_or(DENSITIES[DENSITIES.len() - 1])
}

/// Lightness as the eye weighs it (Rec. 601), rounded.
pub(crate) fn grey_of([r, g, b]: [f32; 3]) -> u8 {
    (0.299 * r + 0.587 * g + 0.114 * b + 0.5) as u8
}

/// Resamples the sheet of width × height mm at `density` pixels a millimetre through `to_photo`
/// (mm to photograph pixels). Cubic convolution (Keys 1981, a = -1/2) keeps edges; where the
/// photograph is much denser than the page, several samples are averaged for each pixel.
/// Outside the photograph its border colour goes on.
#[tracing::instrument(level = "trace", name = "rectify", skip_all)]
pub(super) fn rectify(
    photo: &RgbImage,
    to_photo: &Homography,
    (width, height): (f64, f64),
    density: u32,
) -> (RgbImage, GrayImage) {
    let w = (width * f64::from(density)).round() as u32;
    let h = (height * f64::from(density)).round() as u32;
    let mut rgb = RgbImage::new(w, h);
    let mut grey = GrayImage::new(w, h);
    let reduction = to_photo.scale_at(0.5 * width, 0.5 * height) / f64::from(density);
    let samples = if reduction > 1.6 { 2 } else { 1 };
    let s = 1.0 / f64::from(density);
    let rgb_rows = rgb
        .as_flat_samples_mut()
        .samples
        .chunks_exact_mut(3 * w as usize);
    let grey_rows = grey
        .as_flat_samples_mut()
        .samples
        .chunks_exact_mut(w as usize);
    for (j, (rgb_row, grey_row)) in rgb_rows.zip(grey_rows).enumerate() {
        let pixels = rgb_row.chunks_exact_mut(3).zip(grey_row);
        for (i, (rgb_out, grey_out)) in pixels.enumerate() {
            let mut sum = [0.0_f32; 3];
            for a in 0..samples {
                for b in 0..samples {
                    let within = |k: usize| (k as f64 + 0.5) / samples as f64;
                    let x = (i as f64 + within(a)) * s;
                    let y = (j as f64 + within(b)) * s;
                    let (px, py) = to_photo.apply(x, y);
                    let colour = cubic(photo, px, py);
                    for (t, c) in sum.iter_mut().zip(colour) {
                        *t += c;
                    }
                }
            }
            let share = 1.0 / (samples * samples) as f32;
            let colour = sum.map(|t| (t * share).clamp(0.0, 255.0));
            for (out, c) in rgb_out.iter_mut().zip(colour) {
                *out = (c + 0.5) as u8;
            }
            *grey_out = grey_of(colour);
        }
    }
    (rgb, grey)
}

fn weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (-t3 + 2.0 * t2 - t),
        0.5 * (3.0 * t3 - 5.0 * t2 + 2.0),
        0.5 * (-3.0 * t3 + 4.0 * t2 + t),
        0.5 * (t3 - t2),
    ]
}

fn cubic(photo: &RgbImage, x: f64, y: f64) -> [f32; 3] {
    let (w, h) = (photo.width() as isize, photo.height() as isize);
    let (x, y) = (x.clamp(-1.0, w as f64), y.clamp(-1.0, h as f64));
    let (i, j) = (x.floor() as isize, y.floor() as isize);
    let (wx, wy) = (
        weights((x - i as f64) as f32),
        weights((y - j as f64) as f32),
    );
    let raw = photo.as_raw();
    let mut out = [0.0_f32; 3];
    if i >= 1 && j >= 1 && i + 2 < w && j + 2 < h {
        for (k, wk) in wy.iter().enumerate() {
            let start = 3 * ((j as usize + k - 1) * w as usize + i as usize - 1);
            let row: &[u8; 12] = raw[start..start + 12]
                .first_chunk()
                .expect("twelve bytes were sliced");
            for (c, o) in out.iter_mut().enumerate() {
                let sum = wx[0] * f32::from(row[c])
                    + wx[1] * f32::from(row[c + 3])
                    + wx[2] * f32::from(row[c + 6])
                    + wx[3] * f32::from(row[c + 9]);
                *o += wk * sum;
            }
        }
        return out;
    }
    for (k, wk) in wy.iter().enumerate() {
        let row = (j + k as isize - 1).clamp(0, h - 1);
        for (l, wl) in wx.iter().enumerate() {
            let column = (i + l as isize - 1).clamp(0, w - 1);
            let at = 3 * (row * w + column) as usize;
            for (o, &v) in out.iter_mut().zip(&raw[at..at + 3]) {
                *o += wk * wl * f32::from(v);
            }
        }
    }
    out
}
