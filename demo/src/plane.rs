//! Plane to plane: how the flat sheet comes to lie in the picture.

/// A row-major 3 × 3 matrix that takes one plane to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography(pub [f64; 9]);

impl Homography {
    /// Where a point goes.
    pub fn apply(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let m = &self.0;
        let w = m[6] * x + m[7] * y + m[8];
        (
            (m[0] * x + m[1] * y + m[2]) / w,
            (m[3] * x + m[4] * y + m[5]) / w,
        )
    }

    /// The way back (the adjugate: a homography has no scale of its own).
    pub fn inverse(&self) -> Self {
        let [a, b, c, d, e, f, g, h, i] = self.0;
        Self([
            e * i - f * h,
            c * h - b * i,
            b * f - c * e,
            f * g - d * i,
            a * i - c * g,
            c * d - a * f,
            d * h - e * g,
            b * g - a * h,
            a * e - b * d,
        ])
    }
}

/// The corners of a sheet: top left, top right, bottom right, bottom left.
pub fn corners((width, height): (f64, f64)) -> [(f64, f64); 4] {
    [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
}

/// The view of a sheet through a pinhole: turned in its plane, tilted, and moved away.
pub fn pinhole(
    sheet: (f64, f64),
    frame: (f64, f64),
    focal: f64,
    distance: f64,
    tilt: (f64, f64),
    turn: f64,
    shift: (f64, f64),
) -> Homography {
    let (sin_a, cos_a) = libm::sincos(tilt.0.to_radians());
    let (sin_b, cos_b) = libm::sincos(tilt.1.to_radians());
    let (sin_c, cos_c) = libm::sincos(turn.to_radians());
    // Turn about the line of sight, then tilt sideways, then forwards.
    let rotate = |x: f64, y: f64| {
        let (x, y) = (cos_c * x - sin_c * y, sin_c * x + cos_c * y);
        let (x, z) = (cos_b * x, -sin_b * x);
        (x, cos_a * y - sin_a * z, sin_a * y + cos_a * z)
    };
    let (right, down) = (rotate(1.0, 0.0), rotate(0.0, 1.0));
    let middle = rotate(-sheet.0 / 2.0, -sheet.1 / 2.0);
    let (cx, cy) = (
        frame.0 * (0.5 + shift.0) - 0.5,
        frame.1 * (0.5 + shift.1) - 0.5,
    );
    let column = |v: (f64, f64, f64), z: f64| {
        (
            focal * v.0 + cx * (v.2 + z),
            focal * v.1 + cy * (v.2 + z),
            v.2 + z,
        )
    };
    let (a, b, c) = (
        column(right, 0.0),
        column(down, 0.0),
        column(middle, distance),
    );
    let scale = 1.0 / c.2;
    Homography([a.0, b.0, c.0, a.1, b.1, c.1, a.2, b.2, c.2].map(|value| value * scale))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back_is_where_it_was() {
        let view = pinhole(
            (210.0, 297.0),
            (1500.0, 2000.0),
            1480.0,
            340.0,
            (12.0, -7.0),
            4.0,
            (0.01, 0.0),
        );
        let (x, y) = view.inverse().apply(view.apply((31.5, 240.25)));
        assert!((x - 31.5).abs() < 1e-9 && (y - 240.25).abs() < 1e-9);
    }

    #[test]
    fn straight_from_above_a_sheet_keeps_its_shape() {
        let view = pinhole(
            (210.0, 297.0),
            (1500.0, 2000.0),
            1480.0,
            340.0,
            (0.0, 0.0),
            0.0,
            (0.0, 0.0),
        );
        let ((x0, y0), (x1, y1)) = (view.apply((0.0, 0.0)), view.apply((210.0, 297.0)));
        let (across, down) = ((x1 - x0) / 210.0, (y1 - y0) / 297.0);
        assert!((across - 1480.0 / 340.0).abs() < 1e-9 && (across - down).abs() < 1e-9);
    }
}
