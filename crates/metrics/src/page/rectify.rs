//! The sheet cut out of the photograph, resampled once.

use image::{GrayImage, RgbImage};

use units::Mesh;

/// Densities that a page picture may have, pixels for each millimetre.
const DENSITIES: [u32; 4] = [14, 12, 10, 8];

/// Most pixels of a page picture: an A4 page at 10 pixels a millimetre, an A5 page at 14. Denser
/// pictures of the drawn pages were measured no better, and take longer.
const MOST_PIXELS: f64 = 6.5e6;

/// The densest page picture that the photograph still fills; never below the least. The size is in
/// millimetres.
pub(super) fn density(photo_px_per_mm: f64, (width, height): (f64, f64)) -> u32 {
    let most = (MOST_PIXELS / (width * height)).sqrt();
    DENSITIES
        .into_iter()
        .find(|&d| f64::from(d) <= photo_px_per_mm.min(most))
        .unwrap_or(DENSITIES[DENSITIES.len() - 1])
}

/// Lightness as the eye weighs it (Rec. 601), rounded.
pub(crate) fn grey_of([r, g, b]: [f32; 3]) -> u8 {
    (0.299 * r + 0.587 * g + 0.114 * b + 0.5) as u8
}

/// Resamples the sheet of width × height mm at `density` pixels a millimetre through `mesh`.
/// Cubic convolution (Keys 1981, a = -1/2) keeps edges; a photograph that is much denser than the
/// page is halved first, so that every pixel of it counts. Outside the photograph its border colour
/// goes on.
#[tracing::instrument(level = "trace", name = "rectify", skip_all)]
pub(crate) fn rectify(
    photo: &RgbImage,
    mesh: &Mesh,
    (width, height): (f64, f64),
    density: u32,
) -> (RgbImage, GrayImage) {
    let w = (width * f64::from(density)).round() as u32;
    let h = (height * f64::from(density)).round() as u32;
    let mut rgb = RgbImage::new(w, h);
    let mut grey = GrayImage::new(w, h);
    let reduction = scale_at(mesh, (width, height), (0.5, 0.5)) / f64::from(density);
    let halved = (reduction > 1.6).then(|| halve(photo));
    let source = halved.as_ref().unwrap_or(photo);
    let across = (width * f64::from(density), height * f64::from(density));
    let rgb_rows = rgb
        .as_flat_samples_mut()
        .samples
        .chunks_exact_mut(3 * w as usize);
    let grey_rows = grey
        .as_flat_samples_mut()
        .samples
        .chunks_exact_mut(w as usize);
    let columns: Vec<Column> = (0..w)
        .map(|i| Column::at((f64::from(i) + 0.5) / across.0, mesh.columns as usize))
        .collect();
    let weights = Weights::new();
    for (j, (rgb_row, grey_row)) in rgb_rows.zip(grey_rows).enumerate() {
        let mut row = Row::of(mesh, (j as f64 + 0.5) / across.1);
        if halved.is_some() {
            row.halve();
        }
        let pixels = rgb_row.chunks_exact_mut(3).zip(grey_row);
        for ((rgb_out, grey_out), column) in pixels.zip(&columns) {
            let (px, py) = row.at(column);
            let colour = cubic(source, &weights, px, py);
            for (out, c) in rgb_out.iter_mut().zip(colour) {
                *out = ((c + HALF_LEVEL) >> LEVEL_BITS).clamp(0, 255) as u8;
            }
            *grey_out = grey_of(colour.map(|c| (c as f32 * PER_LEVEL).clamp(0.0, 255.0)));
        }
    }
    (rgb, grey)
}

/// The mean of every two by two pixels; an odd last row or column is left out.
fn halve(photo: &RgbImage) -> RgbImage {
    let (w, h) = (photo.width() / 2, photo.height() / 2);
    let stride = 3 * photo.width() as usize;
    let raw = photo.as_raw();
    let mut out = RgbImage::new(w, h);
    let rows = out
        .as_flat_samples_mut()
        .samples
        .chunks_exact_mut(3 * w as usize);
    for (row, pair) in rows.zip(raw.chunks_exact(2 * stride)) {
        let (upper, lower) = pair.split_at(stride);
        let fours = upper.chunks_exact(6).zip(lower.chunks_exact(6));
        for (pixel, (a, b)) in row.chunks_exact_mut(3).zip(fours) {
            for (c, out) in pixel.iter_mut().enumerate() {
                let sum = [a[c], a[c + 3], b[c], b[c + 3]].map(u16::from);
                *out = ((sum[0] + sum[1] + sum[2] + sum[3] + 2) / 4) as u8;
            }
        }
    }
    out
}

/// Where a column of samples lies in a row of nodes: after which node, and how far on the way to
/// the next.
struct Column {
    node: usize,
    share: f64,
}

impl Column {
    fn at(u: f64, nodes: usize) -> Self {
        let place = u * (nodes - 1) as f64;
        let node = (place as usize).min(nodes - 2);
        Self {
            node,
            share: place - node as f64,
        }
    }
}

/// One row of a mesh between its rows of nodes: each node, and the step to the next.
struct Row {
    cells: Vec<[(f64, f64); 2]>,
}

impl Row {
    fn of(mesh: &Mesh, v: f64) -> Self {
        let last = f64::from(mesh.columns - 1);
        let nodes = (0..mesh.columns).map(|i| mesh.at(f64::from(i) / last, v));
        let nodes: Vec<(f64, f64)> = nodes.collect();
        let step = |a: (f64, f64), b: (f64, f64)| (b.0 - a.0, b.1 - a.1);
        Self {
            cells: nodes
                .windows(2)
                .map(|pair| [pair[0], step(pair[0], pair[1])])
                .collect(),
        }
    }

    /// The same in a photograph of half the size: its pixel k lies between pixels 2 k and 2 k + 1.
    fn halve(&mut self) {
        for [node, step] in &mut self.cells {
            *node = (0.5 * node.0 - 0.25, 0.5 * node.1 - 0.25);
            *step = (0.5 * step.0, 0.5 * step.1);
        }
    }

    fn at(&self, column: &Column) -> (f64, f64) {
        let [node, step] = self.cells[column.node];
        (
            node.0 + column.share * step.0,
            node.1 + column.share * step.1,
        )
    }
}

/// Photograph pixels for each millimetre near a place, the square root of the area that a square
/// millimetre becomes. `size` is in millimetres, the place in shares of it.
pub(crate) fn scale_at(mesh: &Mesh, size: (f64, f64), (u, v): (f64, f64)) -> f64 {
    let (du, dv) = (2.0 / size.0, 2.0 / size.1);
    let ((ax, ay), (bx, by)) = (mesh.at(u - du, v), mesh.at(u + du, v));
    let ((cx, cy), (dx, dy)) = (mesh.at(u, v - dv), mesh.at(u, v + dv));
    let area = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx);
    0.25 * area.abs().sqrt()
}

/// Steps between two pixels at which the weights are known.
const PHASES: usize = 1024;
/// Bits after the point of a weight.
const WEIGHT_BITS: u32 = 14;
/// Bits after the point of a colour that is summed down but not yet across.
const COLOUR_BITS: u32 = 4;

const LEVEL_BITS: u32 = WEIGHT_BITS + COLOUR_BITS;
const HALF_LEVEL: i32 = 1 << (LEVEL_BITS - 1);
const PER_LEVEL: f32 = 1.0 / (1 << LEVEL_BITS) as f32;

/// Weights of four neighbouring pixels for a place past the second, in whole numbers: the same on
/// every platform, and eight of them are worked out at once.
struct Weights(Vec<[i16; 4]>);

impl Weights {
    fn new() -> Self {
        let scale = f64::from(1 << WEIGHT_BITS);
        let at = |k: usize| {
            let t = k as f64 / PHASES as f64;
            let (t2, t3) = (t * t, t * t * t);
            let [a, c, d] = [
                0.5 * (-t3 + 2.0 * t2 - t),
                0.5 * (-3.0 * t3 + 4.0 * t2 + t),
                0.5 * (t3 - t2),
            ]
            .map(|weight| (weight * scale).round() as i16);
            // All four make one exactly, so that even paper stays even.
            [a, (1 << WEIGHT_BITS) - a - c - d, c, d]
        };
        Self((0..PHASES).map(at).collect())
    }

    /// The whole number below a place that is not negative, and the weights for what is left.
    #[inline]
    fn of(&self, place: f64) -> (usize, [i16; 4]) {
        let fine = (place * PHASES as f64) as usize;
        (fine / PHASES, self.0[fine % PHASES])
    }
}

/// The colour between pixels, in 1 / 2¹⁸ levels, beyond the usual range too.
#[inline]
fn cubic(photo: &RgbImage, weights: &Weights, x: f64, y: f64) -> [i32; 3] {
    let (w, h) = (photo.width() as usize, photo.height() as usize);
    // Two more, so that no place is negative and the first of the four pixels is known by taking
    // three away.
    let (i, wx) = weights.of(x.clamp(-1.0, w as f64) + 2.0);
    let (j, wy) = weights.of(y.clamp(-1.0, h as f64) + 2.0);
    let stride = 3 * w;
    let inside = i >= 3 && j >= 3 && i < w && j < h;
    let start = if inside {
        (j - 3) * stride + 3 * (i - 3)
    } else {
        0
    };
    let down = match photo.as_raw().get(start..start + 3 * stride + 16) {
        Some(rows) if inside => down(rows, stride, wy),
        _ => down(&beyond(photo, i, j), 16, wy),
    };
    let across = |c: usize| -> i32 {
        (0..4)
            .map(|k| i32::from(down[c + 3 * k]) * i32::from(wx[k]))
            .sum()
    };
    [across(0), across(1), across(2)]
}

/// Four rows of four pixels summed down. Each row has four bytes more than its pixels, so that it
/// fills a register of sixteen.
#[inline]
fn down(rows: &[u8], stride: usize, weights: [i16; 4]) -> [i16; 16] {
    let row = |k: usize| -> &[u8; 16] {
        rows[k * stride..]
            .first_chunk()
            .expect("the last of four rows has sixteen bytes")
    };
    let (a, b, c, d) = (row(0), row(1), row(2), row(3));
    let part = |v: u8, weight: i16| -> i16 {
        let v = i32::from(v) << (16 + COLOUR_BITS - WEIGHT_BITS);
        ((v * i32::from(weight)) >> 16) as i16
    };
    let mut out = [0; 16];
    for k in 0..16 {
        out[k] = part(a[k], weights[0])
            + part(b[k], weights[1])
            + part(c[k], weights[2])
            + part(d[k], weights[3])
            // Each part is cut off below; together they lose two on the mean.
            + 2;
    }
    out
}

/// The same four rows where the picture's border goes on. `i` and `j` are two more than the
/// second pixel's own.
#[cold]
fn beyond(photo: &RgbImage, i: usize, j: usize) -> [u8; 64] {
    let (w, h) = (photo.width() as usize, photo.height() as usize);
    let raw = photo.as_raw();
    let mut out = [0; 64];
    for (k, four) in out.chunks_exact_mut(16).enumerate() {
        let row = (j + k).saturating_sub(3).min(h - 1);
        for (l, pixel) in four.chunks_exact_mut(3).enumerate().take(4) {
            let at = 3 * (row * w + (i + l).saturating_sub(3).min(w - 1));
            pixel.copy_from_slice(&raw[at..at + 3]);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use image::Rgb;

    use super::*;
    use crate::page::Homography;

    /// Two slopes of light over a sheet of 20 × 30 mm, 20 photograph pixels a millimetre, off by
    /// three pixels from the photograph's corner.
    #[test]
    fn a_dense_photograph_is_halved_without_moving_anything() {
        let photo = RgbImage::from_fn(420, 620, |x, y| {
            Rgb([(x / 2) as u8, (y / 3) as u8, ((x + y) / 5) as u8])
        });
        let mesh = Mesh::new(3, 4, |u, v| (3.0 + 400.0 * u, 3.0 + 600.0 * v));
        let (rgb, grey) = rectify(&photo, &mesh, (20.0, 30.0), 10);
        assert_eq!(rgb.dimensions(), (200, 300));
        for (x, y, pixel) in rgb.enumerate_pixels() {
            // The middle of page pixel (x, y), in photograph pixels.
            let (px, py) = (4.0 + 2.0 * f64::from(x), 4.0 + 2.0 * f64::from(y));
            let drawn = [px / 2.0 - 0.25, py / 3.0 - 0.33, (px + py) / 5.0 - 0.4];
            for (seen, drawn) in pixel.0.iter().zip(drawn) {
                assert!((f64::from(*seen) - drawn).abs() < 0.8, "{seen} for {drawn}");
            }
            let own = grey_of(pixel.0.map(f32::from));
            assert!(grey.get_pixel(x, y)[0].abs_diff(own) <= 1);
        }
    }

    #[test]
    fn scale_is_that_of_a_small_square() {
        let h = Homography([12.0, 0.5, 30.0, -0.4, 11.0, 80.0, 1e-4, 2e-4, 1.0]);
        let (x, y, d) = (100.0, 150.0, 1e-3);
        let (p, q, r) = (h.apply(x, y), h.apply(x + d, y), h.apply(x, y + d));
        let area = ((q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0)) / (d * d);
        // A node every 5 mm; the place is one of them.
        let mesh = Mesh::new(41, 61, |u, v| h.apply(200.0 * u, 300.0 * v));
        assert!((scale_at(&mesh, (200.0, 300.0), (0.5, 0.5)) - area.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn no_page_picture_is_larger_than_measuring_gains_from() {
        let pixels = |photo: f64, size: (f64, f64)| {
            let d = f64::from(density(photo, size));
            (d, d * d * size.0 * size.1)
        };
        assert_eq!(pixels(30.0, (210.0, 297.0)).0, 10.0);
        assert_eq!(pixels(30.0, (148.0, 210.0)).0, 14.0);
        assert_eq!(pixels(12.5, (148.0, 210.0)).0, 12.0);
        assert_eq!(pixels(2.0, (215.9, 279.4)).0, 8.0);
        assert!(pixels(99.0, (215.9, 279.4)).1 <= MOST_PIXELS);
    }
}
