//! Closed outlines as polylines, and what can be asked of them.

use units::{BoxMm, Mm};

/// A point, in whatever unit its outline is in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down on a sheet, up in a font.
    pub y: f64,
}

/// Closed polylines filled by the non-zero rule.
pub type Outline = Vec<Vec<Point>>;

/// The box of an outline; `None` where it has no points.
pub fn bounds(outline: &[Vec<Point>]) -> Option<BoxMm> {
    let mut points = outline.iter().flatten();
    let first = points.next()?;
    let start = (first.x, first.y, first.x, first.y);
    let (x0, y0, x1, y1) = points.fold(start, |(x0, y0, x1, y1), p| {
        (x0.min(p.x), y0.min(p.y), x1.max(p.x), y1.max(p.y))
    });
    Some(BoxMm {
        x0: Mm(x0),
        y0: Mm(y0),
        x1: Mm(x1),
        y1: Mm(y1),
    })
}

/// The smallest box around both.
pub fn union(a: BoxMm, b: BoxMm) -> BoxMm {
    BoxMm {
        x0: Mm(a.x0.0.min(b.x0.0)),
        y0: Mm(a.y0.0.min(b.y0.0)),
        x1: Mm(a.x1.0.max(b.x1.0)),
        y1: Mm(a.y1.0.max(b.y1.0)),
    }
}

/// Where the horizontal at `y` crosses the outline, left to right.
pub fn crossings(outline: &[Vec<Point>], y: f64) -> Vec<f64> {
    let mut found = Vec::new();
    for contour in outline {
        let next = contour.iter().cycle().skip(1);
        for (a, b) in contour.iter().zip(next) {
            if (a.y <= y) != (b.y <= y) {
                found.push(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
            }
        }
    }
    found.sort_by(f64::total_cmp);
    found
}

/// Leftmost and rightmost ink on the horizontal at `y`.
pub fn extent(outline: &[Vec<Point>], y: f64) -> Option<(f64, f64)> {
    let found = crossings(outline, y);
    Some((*found.first()?, *found.last()?))
}

/// A thick line with round ends, as a closed polyline.
pub fn capsule(from: Point, to: Point, width: f64) -> Vec<Point> {
    const STEPS: usize = 8;
    let along = libm::atan2(to.y - from.y, to.x - from.x);
    let arc = |centre: Point, start: f64| {
        (0..=STEPS).map(move |step| {
            let angle = start + core::f64::consts::PI * step as f64 / STEPS as f64;
            Point {
                x: centre.x + width / 2.0 * libm::cos(angle),
                y: centre.y + width / 2.0 * libm::sin(angle),
            }
        })
    };
    let quarter = core::f64::consts::FRAC_PI_2;
    arc(to, along - quarter)
        .chain(arc(from, along + quarter))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Outline {
        vec![vec![
            Point { x: 1.0, y: 1.0 },
            Point { x: 3.0, y: 1.0 },
            Point { x: 3.0, y: 3.0 },
            Point { x: 1.0, y: 3.0 },
        ]]
    }

    #[test]
    fn a_square_is_crossed_twice_and_bounded_by_its_corners() {
        assert_eq!(crossings(&square(), 2.0), [1.0, 3.0]);
        assert_eq!(extent(&square(), 5.0), None);
        let found = bounds(&square()).map(|b| (b.x0.0, b.y0.0, b.x1.0, b.y1.0));
        assert_eq!(found, Some((1.0, 1.0, 3.0, 3.0)));
    }

    #[test]
    fn a_capsule_reaches_half_its_width_beyond_its_ends() {
        let shape = vec![capsule(
            Point { x: 0.0, y: 0.0 },
            Point { x: 10.0, y: 0.0 },
            2.0,
        )];
        let found = bounds(&shape).expect("has points");
        assert!((found.x0.0 + 1.0).abs() < 1e-9 && (found.x1.0 - 11.0).abs() < 1e-9);
        assert!((found.y0.0 + 1.0).abs() < 0.03 && (found.y1.0 - 1.0).abs() < 0.03);
    }
}
