//! The sheet cut out of the photograph, resampled once.

use image::{GrayImage, RgbImage};

use bytemuck::cast;
use units::Mesh;
use wide::{i16x8, u8x16};

/// Densities that a page picture may have, pixels for each millimetre.
const DENSITIES: [u32; 4] = [14, 12, 10, 8];

/// Most pixels of a page picture: an A4 page at 8 pixels a millimetre, an A5 page at 10. Denser
/// pictures of drawn pages were measured no better, and take longer.
const MOST_PIXELS: f64 = 4.1e6;

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
pub(crate) fn grey_of([r, g, b]: [u8; 3]) -> u8 {
    ((u32::from(r) * 19_595 + u32::from(g) * 38_470 + u32::from(b) * 7_471 + (1 << 15)) >> 16) as u8
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
    let halve = reduction > MOST_REDUCTION;
    let halved = halve.then(|| half_size(photo));
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
    let cells = Cell::across(w as usize, across.0, mesh.columns as usize);
    let weights = Weights::new();
    for (j, (rgb_row, grey_row)) in rgb_rows.zip(grey_rows).enumerate() {
        let nodes = nodes(mesh, (j as f64 + 0.5) / across.1, halve);
        for (cell, ends) in cells.iter().zip(nodes.windows(2)) {
            let way = Way::of(cell, [ends[0], ends[1]], source.dimensions());
            let columns = cell.columns.clone();
            let pixels = rgb_row[3 * columns.start..3 * columns.end].chunks_exact_mut(3);
            for (k, (rgb_out, grey_out)) in pixels.zip(&mut grey_row[columns]).enumerate() {
                let colour = cubic(source, &weights, way.at(k as i64));
                rgb_out.copy_from_slice(&colour);
                *grey_out = grey_of(colour);
            }
        }
    }
    (rgb, grey)
}

/// Photograph pixels for each page pixel above which every other pixel would count too little.
const MOST_REDUCTION: f64 = 1.9;

/// The mean of every two by two pixels; an odd last row or column is left out.
fn half_size(photo: &RgbImage) -> RgbImage {
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

/// The colour at a place.
#[inline]
fn cubic(photo: &RgbImage, weights: &Weights, place: Place) -> [u8; 3] {
    let (w, h) = (photo.width() as usize, photo.height() as usize);
    let (i, across) = weights.of(place.x);
    let (j, down) = weights.of(place.y);
    let stride = 3 * w;
    let inside = i >= 3 && j >= 3 && i < w && j < h;
    let start = if inside {
        (j - 3) * stride + 3 * (i - 3)
    } else {
        0
    };
    match photo.as_raw().get(start..start + 3 * stride + 16) {
        Some(rows) if inside => weigh(rows, stride, across, down),
        _ => weigh(&beyond(photo, i, j), 16, across, down),
    }
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

/// Four rows of four pixels summed down, then across. Each row has four bytes more than its pixels,
/// so that it fills a register of sixteen.
#[inline]
fn weigh(rows: &[u8], stride: usize, across: &Weight, down: &Weight) -> [u8; 3] {
    // The first eight of sixteen bytes, and the last.
    let (mut first, mut last) = (i16x8::splat(2), i16x8::splat(2));
    for (k, weight) in down.each.into_iter().enumerate() {
        let row: Option<&[u8; 16]> = rows[k * stride..].first_chunk();
        let row = u8x16::new(*row.expect("the last of four rows has sixteen bytes"));
        first += (i16x8::from_u8x16_low(row) << COLOUR_SHIFT).mul_keep_high(weight);
        last += (i16x8::from_u8x16_high(row) << COLOUR_SHIFT).mul_keep_high(weight);
    }
    // Of each product the lower half is cut off: four of them lose two on the mean, which is what
    // the sums begin with.
    let whole = 16 - WEIGHT_BITS;
    let [a, b]: [u64; 2] = cast((first << whole).mul_keep_high(across.first) + LIFT);
    let [c, _]: [u64; 2] = cast((last << whole).mul_keep_high(across.last) + LIFT);
    // Four numbers lie in each of `a`, `b` and `c`, every third of the twelve belongs together, and
    // the lift keeps them from borrowing of one another: three sums at once.
    let sums = [a, a >> 48, b << 16, b >> 32, c << 32, c >> 16];
    let sums = sums.into_iter().fold(0, u64::wrapping_add);
    core::array::from_fn(|channel| {
        let sum = (sums >> (16 * channel) & 0xffff) as i32 - 4 * i32::from(LIFT) + 2;
        ((sum + (1 << (COLOUR_BITS - 1))) >> COLOUR_BITS).clamp(0, 255) as u8
    })
}

/// The columns of the page between two neighbouring columns of nodes.
struct Cell {
    columns: core::ops::Range<usize>,
    /// Where the first of them lies, as a share of the cell.
    first: f64,
    /// From one to the next.
    step: f64,
}

impl Cell {
    /// `width` columns of pixels, of which `across` make up the whole width of the sheet.
    fn across(width: usize, across: f64, nodes: usize) -> Vec<Cell> {
        let step = (nodes - 1) as f64 / across;
        let place = |column: usize| (column as f64 + 0.5) * step;
        let mut start = 0;
        let cells = (0..nodes - 1).map(|node| {
            let last = node + 2 == nodes;
            let mut end = start;
            while end < width && (last || place(end) < (node + 1) as f64) {
                end += 1;
            }
            let columns = core::mem::replace(&mut start, end)..end;
            Cell {
                first: place(columns.start) - node as f64,
                columns,
                step,
            }
        });
        cells.collect()
    }
}

/// Where a row of the page crosses the columns of nodes, in pixels of the photograph or, if that
/// is halved, of its half: there pixel k lies between pixels 2 k and 2 k + 1.
fn nodes(mesh: &Mesh, v: f64, halve: bool) -> Vec<(f64, f64)> {
    let last = f64::from(mesh.columns - 1);
    let nodes = (0..mesh.columns).map(|i| mesh.at(f64::from(i) / last, v));
    nodes
        .map(|(x, y)| match halve {
            true => (0.5 * x - 0.25, 0.5 * y - 0.25),
            false => (x, y),
        })
        .collect()
}

/// A place in the photograph in 1 / 2²⁴ pixels, two pixels more than it is: so no place near the
/// photograph is negative, and the first of four pixels is known by taking three away.
#[derive(Clone, Copy)]
struct Place {
    x: i64,
    y: i64,
}

/// Bits after the point of a place.
const PLACE_BITS: u32 = 24;

/// Evenly spaced places through a cell.
struct Way {
    first: Place,
    step: Place,
    most: Place,
}

impl Way {
    fn of(cell: &Cell, [a, b]: [(f64, f64); 2], (width, height): (u32, u32)) -> Self {
        // A mapping that runs away stays within what the sums can hold.
        let fixed = |v: f64| (v.clamp(-1e6, 1e6) * f64::from(1 << PLACE_BITS)) as i64;
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        Self {
            first: Place {
                x: fixed(a.0 + cell.first * dx + 2.0),
                y: fixed(a.1 + cell.first * dy + 2.0),
            },
            step: Place {
                x: fixed(cell.step * dx),
                y: fixed(cell.step * dy),
            },
            most: Place {
                x: i64::from(width + 2) << PLACE_BITS,
                y: i64::from(height + 2) << PLACE_BITS,
            },
        }
    }

    /// The k-th place, or the nearest one that is not far off the photograph.
    #[inline]
    fn at(&self, k: i64) -> Place {
        let least = 1 << PLACE_BITS;
        Place {
            x: (self.first.x + k * self.step.x).clamp(least, self.most.x),
            y: (self.first.y + k * self.step.y).clamp(least, self.most.y),
        }
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

/// Bits of a place between two pixels for which the weights are known.
const PHASE_BITS: u32 = 8;
const PHASES: usize = 1 << PHASE_BITS;
const HALF_PHASE: i64 = 1 << (PLACE_BITS - PHASE_BITS - 1);
/// Bits after the point of a weight.
const WEIGHT_BITS: u32 = 14;
/// Bits after the point of a colour while it is summed.
const COLOUR_BITS: u32 = 4;
/// What lifts a level so far that the upper half of its product with a weight has those bits.
const COLOUR_SHIFT: u32 = 16 + COLOUR_BITS - WEIGHT_BITS;
/// More than any part of a colour lies below nothing.
const LIFT: i16 = 2048;

/// Weights of four neighbouring pixels, in whole numbers: the same on every platform.
struct Weight {
    each: [i16x8; 4],
    /// The weights of the first eight of twelve bytes.
    first: i16x8,
    /// Those of the last four.
    last: i16x8,
}

/// The weights for a place past the second of four pixels.
struct Weights(Box<[Weight; PHASES]>);

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
            let b = (1 << WEIGHT_BITS) - a - c - d;
            Weight {
                each: [a, b, c, d].map(i16x8::splat),
                first: i16x8::new([a, a, a, b, b, b, c, c]),
                last: i16x8::new([c, d, d, d, 0, 0, 0, 0]),
            }
        };
        Self(Box::new(core::array::from_fn(at)))
    }

    /// The whole number below a coordinate that is not negative, and the weights for what is left.
    #[inline]
    fn of(&self, coordinate: i64) -> (usize, &Weight) {
        // Shifted before it becomes a `usize`, which may have no more than 32 bits.
        let fine = ((coordinate + HALF_PHASE) >> (PLACE_BITS - PHASE_BITS)) as usize;
        (fine >> PHASE_BITS, &self.0[fine % PHASES])
    }
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
            let own = grey_of(pixel.0);
            assert!(grey.get_pixel(x, y)[0].abs_diff(own) <= 1);
        }
    }

    #[test]
    fn a_mapping_that_runs_away_gives_the_border() {
        let photo = RgbImage::from_pixel(420, 620, Rgb([90, 100, 110]));
        for far in [1e300, f64::INFINITY, -1e300, f64::NAN] {
            let mesh = Mesh::new(3, 4, |u, _| (if u > 0.4 { far } else { 10.0 }, far));
            let (rgb, _) = rectify(&photo, &mesh, (20.0, 30.0), 8);
            assert!(rgb.pixels().all(|p| p.0 == [90, 100, 110]), "{far}");
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
        assert_eq!(pixels(30.0, (210.0, 297.0)).0, 8.0);
        assert_eq!(pixels(30.0, (148.0, 210.0)).0, 10.0);
        assert_eq!(pixels(9.5, (148.0, 210.0)).0, 8.0);
        assert_eq!(pixels(2.0, (215.9, 279.4)).0, 8.0);
        assert!(pixels(99.0, (215.9, 279.4)).1 <= MOST_PIXELS);
    }
}
