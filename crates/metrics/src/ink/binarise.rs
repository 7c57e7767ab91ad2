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
/// picture's edge. A window is at most 181 pixels wide, so that what it holds fits its numbers.
#[tracing::instrument(level = "trace", name = "binarise", skip_all)]
pub fn binarise(grey: &GrayImage, how: Sauvola) -> GrayImage {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let half = (how.window / 2).min(MOST_HALF) as usize;
    let raw = grey.as_raw();
    let mut out = GrayImage::new(w as u32, h as u32);
    if w == 0 || h == 0 {
        return out;
    }
    let mut columns = Columns::new(w);
    for row in raw.chunks_exact(w).take(half) {
        columns.include(row);
    }
    let mut windows = Windows::new(w);
    let mut paper = vec![false; w];
    for (y, marks) in out.chunks_exact_mut(w).enumerate() {
        let row = |y: usize| &raw[y * w..(y + 1) * w];
        match (y + half < h, y > half) {
            (true, true) => columns.exchange(row(y + half), row(y - half - 1)),
            (true, false) => columns.include(row(y + half)),
            (false, true) => columns.exclude(row(y - half - 1)),
            (false, false) => {}
        }
        let rows = (y + half).min(h - 1) - y.saturating_sub(half) + 1;
        windows.gather(&columns, half, rows);
        windows.surely_paper(row(y), how, &mut paper);
        for (k, paper) in paper.chunks(32).enumerate() {
            // Most of a page is paper.
            if paper.iter().fold(true, |all, paper| all & paper) {
                continue;
            }
            for x in (32 * k..).take(paper.len()).filter(|x| !paper[x - 32 * k]) {
                if f64::from(row(y)[x]) <= windows.threshold(x, how) {
                    marks[x] = 255;
                }
            }
        }
    }
    out
}

/// 181² squares of a grey's distance from [`ZERO`] are less than 2³¹.
const MOST_HALF: u32 = 90;

/// The grey that greys are counted from: near paper's, so that most are small.
const ZERO: i16 = 230;

/// Sums of the columns inside the window's rows, moved down row by row: whole numbers, exact.
struct Columns {
    sums: Vec<i32>,
    squares: Vec<i32>,
}

impl Columns {
    fn new(width: usize) -> Self {
        Self {
            sums: vec![0; width],
            squares: vec![0; width],
        }
    }

    fn include(&mut self, row: &[u8]) {
        let columns = self.sums.iter_mut().zip(&mut self.squares);
        for ((sum, square), v) in columns.zip(row) {
            let (v, squared) = counted(*v);
            *sum += v;
            *square += squared;
        }
    }

    fn exclude(&mut self, row: &[u8]) {
        let columns = self.sums.iter_mut().zip(&mut self.squares);
        for ((sum, square), v) in columns.zip(row) {
            let (v, squared) = counted(*v);
            *sum -= v;
            *square -= squared;
        }
    }

    /// Both at once.
    fn exchange(&mut self, entering: &[u8], leaving: &[u8]) {
        let columns = self.sums.iter_mut().zip(&mut self.squares);
        for ((sum, square), (a, b)) in columns.zip(entering.iter().zip(leaving)) {
            let ((a, a_squared), (b, b_squared)) = (counted(*a), counted(*b));
            *sum += a - b;
            *square += a_squared - b_squared;
        }
    }
}

/// A grey counted from [`ZERO`], and its square, which is less than 2¹⁶: short numbers are
/// multiplied eight at once.
#[inline]
fn counted(grey: u8) -> (i32, i32) {
    let v = i16::from(grey) - ZERO;
    (i32::from(v), i32::from(v.wrapping_mul(v).cast_unsigned()))
}

/// What the window round each column holds: whole numbers, exact.
struct Windows {
    /// Of how many rows `pixels` are.
    rows: usize,
    pixels: Vec<f32>,
    sums: Vec<i32>,
    squares: Vec<i32>,
}

impl Windows {
    fn new(width: usize) -> Self {
        Self {
            rows: 0,
            pixels: vec![0.0; width],
            sums: vec![0; width],
            squares: vec![0; width],
        }
    }

    /// Windows of `half` columns to either side and so many rows.
    fn gather(&mut self, columns: &Columns, half: usize, rows: usize) {
        let w = columns.sums.len();
        if self.rows != rows {
            for (x, pixels) in self.pixels.iter_mut().enumerate() {
                let across = (x + half).min(w - 1) - x.saturating_sub(half) + 1;
                *pixels = (rows * across) as f32;
            }
            self.rows = rows;
        }
        running(&columns.sums, half, &mut self.sums);
        running(&columns.squares, half, &mut self.squares);
    }

    fn threshold(&self, x: usize, how: Sauvola) -> f64 {
        let pixels = f64::from(self.pixels[x]);
        let (sum, square) = (f64::from(self.sums[x]), f64::from(self.squares[x]));
        let zero = f64::from(ZERO);
        let mean = (sum + zero * pixels) / pixels;
        let all = square + 2.0 * zero * sum + zero * zero * pixels;
        let deviation = (all / pixels - mean * mean).max(0.0).sqrt();
        how.threshold(mean, deviation)
    }

    /// Marks what lies above its threshold by more than rounding can matter, by the same inequality
    /// without its roots and quotients: with n pixels, sum s and sum of squares q, the grey g is
    /// above m (1 + k (d / r − 1)) where (g n − (1 − k) s) n r > k s √(n q − s²). Here greys, sums
    /// and squares are counted from [`ZERO`].
    fn surely_paper(&self, row: &[u8], how: Sauvola, paper: &mut [bool]) {
        let (k, range) = (how.k as f32, how.range as f32);
        if k < 0.0 || range <= 0.0 {
            paper.fill(false);
            return;
        }
        let zero = f32::from(ZERO);
        let windows = self.pixels.iter().zip(&self.sums).zip(&self.squares);
        for ((paper, &grey), ((&n, &sum), &square)) in paper.iter_mut().zip(row).zip(windows) {
            let (sum, square) = (sum as f32, square as f32);
            let whole = sum + zero * n;
            let above = f32::from(grey) * n - (1.0 - k) * whole;
            let (left, right) = (above * n * range, k * whole);
            // Rounding takes less than this from what squares differ by, and from the rest.
            let wide = 1.000_01 * n * square - sum * sum;
            *paper = (above > 1e-4 * whole) & (left * left > 1.001 * right * right * wide);
        }
    }
}

/// The sum of every number with `half` of its neighbours to either side.
fn running(numbers: &[i32], half: usize, sums: &mut [i32]) {
    let mut sum: i32 = numbers.iter().take(half).sum();
    let entering = numbers.get(half..).unwrap_or_default();
    // Where the window has both ends in the row; before it there is nothing to leave, after it
    // nothing to enter.
    let first = (half + 1).min(sums.len());
    let last = entering.len().max(first);
    let (start, rest) = sums.split_at_mut(first);
    let (middle, end) = rest.split_at_mut(last - first);
    for (x, out) in start.iter_mut().enumerate() {
        sum += entering.get(x).unwrap_or(&0);
        *out = sum;
    }
    let pairs = entering.iter().skip(first).zip(numbers);
    for (out, (entering, leaving)) in middle.iter_mut().zip(pairs) {
        sum += entering - leaving;
        *out = sum;
    }
    for (out, leaving) in end.iter_mut().zip(&numbers[last - first..]) {
        sum -= leaving;
        *out = sum;
    }
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

#[cfg(test)]
mod tests {
    use image::Luma;
    use proptest::prelude::*;

    use super::*;

    /// Every window summed anew, and the published formula as it stands.
    fn window_by_window(grey: &GrayImage, how: Sauvola) -> GrayImage {
        let half = how.window / 2;
        GrayImage::from_fn(grey.width(), grey.height(), |x, y| {
            let across = x.saturating_sub(half)..=(x + half).min(grey.width() - 1);
            let down = y.saturating_sub(half)..=(y + half).min(grey.height() - 1);
            let (mut n, mut sum, mut square) = (0_u64, 0_u64, 0_u64);
            for (i, j) in down.flat_map(|j| across.clone().map(move |i| (i, j))) {
                let v = u64::from(grey.get_pixel(i, j)[0]);
                (n, sum, square) = (n + 1, sum + v, square + v * v);
            }
            let mean = sum as f64 / n as f64;
            let deviation = (square as f64 / n as f64 - mean * mean).max(0.0).sqrt();
            let ink = f64::from(grey.get_pixel(x, y)[0]) <= how.threshold(mean, deviation);
            Luma([if ink { 255 } else { 0 }])
        })
    }

    proptest! {
        #[test]
        fn a_running_window_gives_what_the_formula_gives(
            width in 1_u32..40,
            (dark, light) in (0_u8..=255, 0_u8..=255),
            pixels in proptest::collection::vec((0_u8..6, proptest::bool::weighted(0.2)), 1..900),
            half in 0_u32..9,
            k in 0.0..0.6_f64,
        ) {
            let height = pixels.len() as u32 / width;
            let grey = GrayImage::from_fn(width, height, |x, y| {
                let (grain, ink) = pixels[(y * width + x) as usize];
                Luma([(if ink { dark } else { light }).saturating_add(grain)])
            });
            let how = Sauvola { window: 2 * half + 1, k, range: 128.0 };
            prop_assert_eq!(binarise(&grey, how), window_by_window(&grey, how));
        }
    }
}
