//! Ink on the sheet.

use image::GrayImage;

use super::Sheet;

impl Sheet {
    /// Draws a line of round pen marks, turned with the sheet; the darker of two marks stays.
    pub(super) fn stroke(
        &self,
        canvas: &mut GrayImage,
        points: &[(f64, f64)],
        width: f64,
        dark: f64,
    ) {
        let (w, h) = self.size();
        let (sin, cos) = self.turn.to_radians().sin_cos();
        let place = |p: &(f64, f64)| {
            let (x, y) = (p.0 - w / 2.0, p.1 - h / 2.0);
            let turned = (w / 2.0 + x * cos - y * sin, h / 2.0 + x * sin + y * cos);
            (turned.0 * self.px_per_mm, turned.1 * self.px_per_mm)
        };
        let half = width / 2.0 * self.px_per_mm;
        for pair in points.windows(2) {
            let (a, b) = (place(&pair[0]), place(&pair[1]));
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let long = (dx * dx + dy * dy).max(1e-9);
            let span = |p: f64, q: f64, end: u32| {
                let first = (p.min(q) - half - 1.0).max(0.0) as u32;
                first..((p.max(q) + half + 2.0).max(0.0) as u32).min(end)
            };
            for y in span(a.1, b.1, canvas.height()) {
                for x in span(a.0, b.0, canvas.width()) {
                    let (px, py) = (f64::from(x) + 0.5 - a.0, f64::from(y) + 0.5 - a.1);
                    let t = ((px * dx + py * dy) / long).clamp(0.0, 1.0);
                    let away = (px - t * dx).hypot(py - t * dy);
                    let covered = (half - away + 0.5).clamp(0.0, 1.0);
                    let shade = (226.0 * (1.0 - dark * covered)).round() as u8;
                    let pixel = canvas.get_pixel_mut(x, y);
                    pixel[0] = pixel[0].min(shade);
                }
            }
        }
    }
}
