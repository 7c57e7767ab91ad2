//! A small page drawn by a fuzzer's bytes, so that measuring is reached without a valid file.
//!
//! Ten bytes say what is expected and what the sheet is like, as [`sheet`] reads them. Each further
//! group of bytes draws something upon what is there, as [`draw`] reads it. Where the bytes end,
//! noughts go on.

#![allow(clippy::disallowed_methods)] // A stroke need not be the same to the last bit.

use image::{GrayImage, Luma, RgbImage};

/// A flat sheet and its pixels for each millimetre.
pub struct Drawn {
    /// The sheet.
    pub grey: GrayImage,
    /// Pixels for each millimetre.
    pub px_per_mm: f64,
}

impl Drawn {
    /// The sheet on a dark table, seen from straight above.
    pub fn on_table(&self) -> RgbImage {
        const BORDER: u32 = 24;
        let (w, h) = self.grey.dimensions();
        RgbImage::from_fn(w + 2 * BORDER, h + 2 * BORDER, |x, y| {
            let sheet = (BORDER..w + BORDER).contains(&x) && (BORDER..h + BORDER).contains(&y);
            image::Rgb(if sheet {
                [self.grey.get_pixel(x - BORDER, y - BORDER)[0]; 3]
            } else {
                [66 + (grain(x, y) & 7), 50, 38]
            })
        })
    }
}

/// Most things drawn on one page; each touches every pixel at most twice.
const MOST: usize = 48;

/// Draws the page.
pub fn page(bytes: &[u8]) -> Drawn {
    let mut bytes = Rest(bytes);
    let mut drawn = sheet(&mut bytes);
    for _ in 0..MOST {
        if bytes.0.is_empty() {
            break;
        }
        draw(&mut drawn.grey, &mut bytes);
    }
    drawn
}

/// Density, width and height, paper, the rules' distance, thickness and grey, light from one side,
/// noise: a byte each.
fn sheet(bytes: &mut Rest) -> Drawn {
    let px_per_mm = 0.5 + f64::from(bytes.byte()) / 16.0;
    let (width, height) = (8 + 2 * bytes.wide(), 8 + 2 * bytes.wide());
    let paper = bytes.byte();
    let (pitch, thick, rule) = (bytes.wide(), bytes.wide() % 6, bytes.byte());
    let (shade, noise) = (bytes.byte(), bytes.byte() >> 2);
    let grey = GrayImage::from_fn(width, height, |x, y| {
        let printed = pitch > 0 && y % (pitch + 3) < thick;
        let base = if printed { rule } else { paper };
        let dark = u32::from(shade) * x / width;
        let rough = u32::from(noise) * u32::from(grain(x, y)) / 255;
        Luma([u32::from(base).saturating_sub(dark + rough) as u8])
    });
    Drawn { grey, px_per_mm }
}

/// One thing more: a stroke, a ring, a box, a patch of noise or of chequers, a part of the page once
/// more, or many times at equal distances across or down.
fn draw(grey: &mut GrayImage, bytes: &mut Rest) {
    let kind = bytes.byte() % 8;
    let (x, y) = (2 * bytes.wide(), 2 * bytes.wide());
    let (w, h) = (bytes.wide(), bytes.wide());
    let ink = bytes.byte();
    let how = bytes.wide();
    let inside = |grey: &mut GrayImage, is: &dyn Fn(u32, u32) -> bool, grain_of: u8| {
        let (right, bottom) = (grey.width().min(x + w + 1), grey.height().min(y + h + 1));
        for (px, py) in (y..bottom).flat_map(|py| (x..right).map(move |px| (px, py))) {
            if is(px - x, py - y) {
                let value = ink.saturating_add(grain(px, py) & grain_of);
                grey.put_pixel(px, py, Luma([value]));
            }
        }
    };
    match kind {
        // A straight stroke from corner to corner of its box, as thick as the pen, falling or rising.
        0 => {
            let pen = f64::from(how / 2 % 12 + 1) / 2.0;
            let (wide, high) = (f64::from(w), f64::from(h));
            let long = wide.hypot(high).max(1.0);
            let near = move |px: u32, py: u32| {
                let py = if how.is_multiple_of(2) { py } else { h - py };
                (f64::from(px) * high - f64::from(py) * wide).abs() / long <= pen
            };
            inside(grey, &near, 0);
        }
        // An oval as wide and high as its box.
        1 => {
            let pen = f64::from(how % 12 + 1);
            let (rx, ry) = (f64::from(w) / 2.0 + 0.5, f64::from(h) / 2.0 + 0.5);
            let near = move |px: u32, py: u32| {
                let (dx, dy) = (f64::from(px) - rx, f64::from(py) - ry);
                let out = (dx / rx).hypot(dy / ry);
                out <= 1.0 && (1.0 - out) * rx.min(ry) <= pen
            };
            inside(grey, &near, 0);
        }
        2 => inside(grey, &|_, _| true, 0),
        3 => inside(grey, &|px, py| u32::from(grain(px, py)) < how, 0),
        4 => inside(grey, &|_, _| true, how as u8),
        5 => {
            let side = how % 32 + 1;
            inside(grey, &|px, py| (px / side + py / side).is_multiple_of(2), 0);
        }
        6 => again(grey, (x, y, w, h), (u32::from(ink) + 1, 0), how % 40),
        _ => again(grey, (x, y, w, h), (0, u32::from(ink) + 1), how % 40),
    }
}

/// A part of the page once more at every step across or down.
fn again(grey: &mut GrayImage, part: (u32, u32, u32, u32), step: (u32, u32), times: u32) {
    let (x, y) = (part.0.min(grey.width() - 1), part.1.min(grey.height() - 1));
    let (w, h) = (part.2 + 1, part.3 + 1);
    let (w, h) = (w.min(grey.width() - x), h.min(grey.height() - y));
    let copy = image::imageops::crop_imm(grey, x, y, w, h).to_image();
    let twice = 2 * grey.len() as u32 / (w * h);
    for k in 1..=times.min(twice) {
        let (to_x, to_y) = (x + k * step.0, y + k * step.1);
        if to_x >= grey.width() || to_y >= grey.height() {
            break;
        }
        image::imageops::replace(grey, &copy, i64::from(to_x), i64::from(to_y));
    }
}

/// The same disorder everywhere: the finalising steps of MurmurHash3 (Appleby, public domain).
fn grain(x: u32, y: u32) -> u8 {
    let mut word = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77);
    word = (word ^ (word >> 16)).wrapping_mul(0x85EB_CA6B);
    word = (word ^ (word >> 13)).wrapping_mul(0xC2B2_AE35);
    (word >> 24) as u8
}

/// Bytes not read yet.
struct Rest<'a>(&'a [u8]);

impl Rest<'_> {
    fn byte(&mut self) -> u8 {
        let (first, rest) = self.0.split_first().unwrap_or((&0, &[]));
        self.0 = rest;
        *first
    }

    fn wide(&mut self) -> u32 {
        u32::from(self.byte())
    }
}
