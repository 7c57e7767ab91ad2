//! The plane projective mapping between the flat sheet and the photograph.

/// A 3 × 3 projective mapping of the plane, row-major, scaled so that its last entry is 1 where
/// that is possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography(pub [f64; 9]);

impl Homography {
    /// The mapping that takes four points to four others; `None` where three of either set lie
    /// on one straight line.
    pub fn from_points(from: [(f64, f64); 4], to: [(f64, f64); 4]) -> Option<Self> {
        if three_on_a_line(&from) || three_on_a_line(&to) {
            return None;
        }
        let mut rows = [[0.0; 9]; 8];
        for (k, (&(x, y), &(u, v))) in from.iter().zip(&to).enumerate() {
            rows[2 * k] = [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u];
            rows[2 * k + 1] = [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v];
        }
        let h = solve(&mut rows)?;
        Some(Self([h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0]))
    }

    /// Where a point goes.
    pub fn apply(&self, x: f64, y: f64) -> (f64, f64) {
        let h = &self.0;
        let w = h[6] * x + h[7] * y + h[8];
        (
            (h[0] * x + h[1] * y + h[2]) / w,
            (h[3] * x + h[4] * y + h[5]) / w,
        )
    }

    /// The mapping back; `None` where there is none.
    pub fn inverse(&self) -> Option<Self> {
        let [a, b, c, d, e, f, g, h, i] = self.0;
        let adjugate = [
            e * i - f * h,
            c * h - b * i,
            b * f - c * e,
            f * g - d * i,
            a * i - c * g,
            c * d - a * f,
            d * h - e * g,
            b * g - a * h,
            a * e - b * d,
        ];
        let scale = adjugate[8];
        let determinant = a * adjugate[0] + b * adjugate[3] + c * adjugate[6];
        if determinant == 0.0 || scale == 0.0 || !determinant.is_finite() {
            return None;
        }
        Some(Self(adjugate.map(|entry| entry / scale)))
    }
}

/// Whether a triangle of the four is nothing beside the square of their extent.
fn three_on_a_line(points: &[(f64, f64); 4]) -> bool {
    let cross = |a: (f64, f64), b: (f64, f64), c: (f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
    };
    let extent = points.iter().fold(0.0, |most: f64, p| {
        most.max((p.0 - points[0].0).abs())
            .max((p.1 - points[0].1).abs())
    });
    let [a, b, c, d] = *points;
    [
        cross(a, b, c),
        cross(a, b, d),
        cross(a, c, d),
        cross(b, c, d),
    ]
    .iter()
    .any(|area| !area.is_finite() || area.abs() <= 1e-9 * extent * extent)
}

/// Gauss elimination with row pivots of eight equations, the ninth column their right side.
fn solve(rows: &mut [[f64; 9]; 8]) -> Option<[f64; 8]> {
    // A pivot is nothing beside the largest entry of its own column as it was at the start.
    let scale: [f64; 8] = core::array::from_fn(|c| {
        rows.iter()
            .fold(0.0, |most: f64, row| most.max(row[c].abs()))
    });
    for c in 0..8 {
        let pivot = (c..8).max_by(|&a, &b| rows[a][c].abs().total_cmp(&rows[b][c].abs()))?;
        if rows[pivot][c].abs() <= 1e-10 * scale[c] {
            return None;
        }
        rows.swap(c, pivot);
        let top = rows[c];
        for row in &mut rows[c + 1..] {
            let factor = row[c] / top[c];
            for (entry, above) in row[c..].iter_mut().zip(&top[c..]) {
                *entry -= factor * above;
            }
        }
    }
    let mut x = [0.0; 8];
    for c in (0..8).rev() {
        let known: f64 = (c + 1..8).map(|k| rows[c][k] * x[k]).sum();
        x[c] = (rows[c][8] - known) / rows[c][c];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn agrees_with_opencv() {
        // Worked example computed with OpenCV 5.0, `cv::getPerspectiveTransform`.
        let from = [
            (100.0, 80.0),
            (900.0, 120.0),
            (880.0, 1300.0),
            (60.0, 1250.0),
        ];
        let to = [(0.0, 0.0), (2100.0, 0.0), (2100.0, 2970.0), (0.0, 2970.0)];
        let expected = [
            2.646954040402,
            0.09049415522742,
            -271.9349364584,
            -0.1302332618049,
            2.604665236098,
            -195.3498927073,
            8.292020357114e-6,
            2.186936530077e-5,
            1.0,
        ];
        let found = Homography::from_points(from, to).expect("four corners");
        for (f, e) in found.0.iter().zip(expected) {
            assert!((f - e).abs() <= 1e-9 * e.abs(), "{f} is not {e}");
        }
    }

    #[test]
    fn three_points_on_a_line_give_no_mapping() {
        let line = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (5.0, 0.0)];
        let square = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
        assert_eq!(Homography::from_points(square, line), None);
        assert_eq!(Homography::from_points(line, square), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn a_convex_quad_maps_there_and_back(shift in prop::array::uniform8(-120.0..120.0f64)) {
            let quad = [
                (300.0 + shift[0], 300.0 + shift[1]), (2700.0 + shift[2], 280.0 + shift[3]),
                (2650.0 + shift[4], 3700.0 + shift[5]), (350.0 + shift[6], 3650.0 + shift[7]),
            ];
            let sheet = [(0.0, 0.0), (210.0, 0.0), (210.0, 297.0), (0.0, 297.0)];
            let there = Homography::from_points(sheet, quad).expect("convex");
            let back = there.inverse().expect("regular");
            for (s, q) in sheet.iter().zip(&quad) {
                let p = there.apply(s.0, s.1);
                prop_assert!((p.0 - q.0).abs() < 1e-6 && (p.1 - q.1).abs() < 1e-6);
                let p = back.apply(q.0, q.1);
                prop_assert!((p.0 - s.0).abs() < 1e-6 && (p.1 - s.1).abs() < 1e-6);
            }
            let (x, y) = back.apply(there.apply(70.0, 110.0).0, there.apply(70.0, 110.0).1);
            prop_assert!((x - 70.0).abs() < 1e-6 && (y - 110.0).abs() < 1e-6);
        }
    }
}
