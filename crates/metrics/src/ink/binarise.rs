//! Ink told apart from paper by thresholds: Sauvola's for every place, Otsu's for two heaps.

use image::GrayImage;

/// Window, weight and range of Sauvola and Pietikäinen (2000).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sauvola {
    /// Side of the square window in pixels; odd.
    pub window: u32,
    /// Weight of the deviation.
    pub k: f64,
    /// Largest deviation that is thought possible.
    pub range: f64,
}

impl Sauvola {
    /// The threshold for a window of the given mean and standard deviation.
    pub fn threshold(&self, mean: f64, deviation: f64) -> f64 {
        mean * (1.0 + self.k * (deviation / self.range - 1.0))
    }
}

/// Marks as 255 what is at or below the threshold of its surroundings; windows are cut off at the
/// picture's edge.
#[tracing::instrument(level = "trace", name = "binarise", skip_all)]
pub fn binarise(grey: &GrayImage, how: Sauvola) -> GrayImage {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let half = (how.window / 2) as usize;
    let raw = grey.as_raw();
    let mut out = GrayImage::new(w as u32, h as u32);
    if w == 0 || h == 0 {
        return out;
    }
    // Sums of the columns inside the window's rows, moved down row by row: all integers, exact.
    let (mut sums, mut squares) = (vec![0u64; w], vec![0u64; w]);
    let include = |y: usize, sign: bool, sums: &mut Vec<u64>, squares: &mut Vec<u64>| {
        for (x, &v) in raw[y * w..(y + 1) * w].iter().enumerate() {
            let v = u64::from(v);
            if sign {
                sums[x] += v;
                squares[x] += v * v;
            } else {
                sums[x] -= v;
                squares[x] -= v * v;
            }
        }
    };
    for y in 0..half.min(h) {
        include(y, true, &mut sums, &mut squares);
    }
    let below_mean = how.k >= 0.0 && how.range >= 127.5;
    let pixels: &mut [u8] = &mut out;
    for y in 0..h {
        if y + half < h {
            include(y + half, true, &mut sums, &mut squares);
        }
        if y > half {
            include(y - half - 1, false, &mut sums, &mut squares);
        }
        let rows = (y + half).min(h - 1) - y.saturating_sub(half) + 1;
        let (mut sum, mut square) = (0u64, 0u64);
        for x in 0..half.min(w) {
            sum += sums[x];
            square += squares[x];
        }
        for x in 0..w {
            if x + half < w {
                sum += sums[x + half];
                square += squares[x + half];
            }
            if x > half {
                sum -= sums[x - half - 1];
                square -= squares[x - half - 1];
            }
            let pixels_about = rows * ((x + half).min(w - 1) - x.saturating_sub(half) + 1);
            // No deviation of bytes reaches the range, so that every threshold is below the mean.
            let above_mean = u64::from(raw[y * w + x]) * pixels_about as u64 > sum;
            if above_mean && below_mean {
                continue;
            }
            let n = pixels_about as f64;
            let mean = sum as f64 / n;
            let deviation = (square as f64 / n - mean * mean).max(0.0).sqrt();
            if f64::from(raw[y * w + x]) <= how.threshold(mean, deviation) {
                pixels[y * w + x] = 255;
            }
        }
    }
    out
}

/// Otsu's threshold (1979): ink is what is at or below it. `None` for a picture of one grey.
pub fn otsu(grey: impl Iterator<Item = u8>) -> Option<u8> {
    let mut counts = [0u64; 256];
    grey.for_each(|v| counts[v as usize] += 1);
    let total: u64 = counts.iter().sum();
    let all: u64 = counts.iter().zip(0u64..).map(|(c, v)| c * v).sum();
    let (mut below, mut sum) = (0u64, 0u64);
    let mut best: Option<(f64, u8)> = None;
    for (value, &count) in counts.iter().enumerate() {
        below += count;
        sum += count * value as u64;
        let above = total - below;
        if count == 0 || below == 0 || above == 0 {
            continue;
        }
        let apart = sum as f64 / below as f64 - (all - sum) as f64 / above as f64;
        let score = below as f64 * above as f64 * apart * apart;
        if best.is_none_or(|(s, _)| score > s) {
            best = Some((score, value as u8));
        }
    }
    best.map(|(_, value)| value)
}
