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
    for (j, (rgb_row, grey_row)) in rgb_rows.zip(grey_rows).enumerate() {
        let mut row = Row::of(mesh, (j as f64 + 0.5) / across.1);
        if halved.is_some() {
            row.halve();
        }
        let pixels = rgb_row.chunks_exact_mut(3).zip(grey_row);
        for ((rgb_out, grey_out), column) in pixels.zip(&columns) {
            let (px, py) = row.at(column);
            let [r, g, b, _] = cubic(source, px, py).map(|v| v.clamp(0.0, 255.0));
            for (out, c) in rgb_out.iter_mut().zip([r, g, b]) {
                *out = (c + 0.5) as u8;
            }
            *grey_out = grey_of([r, g, b]);
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

fn weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (-t3 + 2.0 * t2 - t),
        0.5 * (3.0 * t3 - 5.0 * t2 + 2.0),
        0.5 * (-3.0 * t3 + 4.0 * t2 + t),
        0.5 * (t3 - t2),
    ]
}

/// The whole number below, and what is left.
fn parted(v: f64) -> (isize, f32) {
    let towards_zero = v as i32;
    let below = towards_zero - i32::from(f64::from(towards_zero) > v);
    (below as isize, (v - f64::from(below)) as f32)
}

/// The colour between pixels; the fourth number says nothing.
fn cubic(photo: &RgbImage, x: f64, y: f64) -> [f32; 4] {
    let (w, h) = (photo.width() as isize, photo.height() as isize);
    let (i, x) = parted(x.clamp(-1.0, w as f64));
    let (j, y) = parted(y.clamp(-1.0, h as f64));
    let (wx, wy) = (weights(x), weights(y));
    let raw = photo.as_raw();
    let stride = 3 * w as usize;
    if i >= 1 && j >= 1 && i + 2 < w && j + 2 < h {
        let start = stride * (j as usize - 1) + 3 * (i as usize - 1);
        if let Some(rows) = raw.get(start..start + 3 * stride + 16) {
            return cubic_inside(rows, stride, wx, wy);
        }
    }
    let mut out = [0.0_f32; 4];
    for (k, wk) in wy.iter().enumerate() {
        let row = (j + k as isize - 1).clamp(0, h - 1);
        let mut sum = [0.0_f32; 3];
        for (l, wl) in wx.iter().enumerate() {
            let column = (i + l as isize - 1).clamp(0, w - 1);
            let at = stride * row as usize + 3 * column as usize;
            for (s, &v) in sum.iter_mut().zip(&raw[at..at + 3]) {
                *s += wl * f32::from(v);
            }
        }
        for (o, s) in out.iter_mut().zip(sum) {
            *o += wk * s;
        }
    }
    out
}

/// The same where no pixel is missing: four rows of four pixels, and four bytes more than those
/// have, so that the colours fill a register of four.
fn cubic_inside(rows: &[u8], stride: usize, wx: [f32; 4], wy: [f32; 4]) -> [f32; 4] {
    let mut out = [0.0_f32; 4];
    for (k, wk) in wy.into_iter().enumerate() {
        let row: &[u8; 16] = rows[k * stride..k * stride + 16]
            .first_chunk()
            .expect("sixteen bytes were sliced");
        for (c, o) in out.iter_mut().enumerate() {
            let sum = wx[0] * f32::from(row[c])
                + wx[1] * f32::from(row[c + 3])
                + wx[2] * f32::from(row[c + 6])
                + wx[3] * f32::from(row[c + 9]);
            *o += wk * sum;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use image::Rgb;

    use super::*;

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
