//! Places on the flat sheet.

use serde::{Deserialize, Serialize};

use crate::{Mm, Ratio};

/// A point on the flat sheet: x along the ruling, y down, millimetres from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
pub struct PointMm {
    /// To the right.
    pub x: Mm,
    /// Down.
    pub y: Mm,
}

/// An upright box on the flat sheet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
pub struct BoxMm {
    /// Left edge.
    pub x0: Mm,
    /// Top edge.
    pub y0: Mm,
    /// Right edge.
    pub x1: Mm,
    /// Bottom edge.
    pub y1: Mm,
}

impl BoxMm {
    /// Two boxes that share less than this of what they cover together are not the same place.
    pub const SAME_PLACE: Ratio = Ratio(0.3);

    /// The box round both.
    #[must_use]
    pub fn union(self, other: &Self) -> Self {
        Self {
            x0: Mm(self.x0.0.min(other.x0.0)),
            y0: Mm(self.y0.0.min(other.y0.0)),
            x1: Mm(self.x1.0.max(other.x1.0)),
            y1: Mm(self.y1.0.max(other.y1.0)),
        }
    }

    /// The area that both share over the area that they cover together, 0 to 1; 0 where they cover
    /// none.
    pub fn overlap(&self, other: &Self) -> Ratio {
        let side = |from: Mm, to: Mm| (to.0 - from.0).max(0.0);
        let area = |one: &Self| side(one.x0, one.x1) * side(one.y0, one.y1);
        let shared = area(&Self {
            x0: Mm(self.x0.0.max(other.x0.0)),
            y0: Mm(self.y0.0.max(other.y0.0)),
            x1: Mm(self.x1.0.min(other.x1.0)),
            y1: Mm(self.y1.0.min(other.y1.0)),
        });
        let covered = area(self) + area(other) - shared;
        Ratio(if covered > 0.0 { shared / covered } else { 0.0 })
    }

    /// Whether both are the same place, as a person means it who draws or points at one.
    pub fn is_same_place(&self, other: &Self) -> bool {
        self.overlap(other) >= Self::SAME_PLACE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(x0: f64, y0: f64, x1: f64, y1: f64) -> BoxMm {
        BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        }
    }

    #[test]
    fn a_union_reaches_as_far_as_either() {
        let (a, b) = (place(1.0, 5.0, 3.0, 6.0), place(2.0, 1.0, 2.5, 9.0));
        assert_eq!(a.union(&b), place(1.0, 1.0, 3.0, 9.0));
        assert_eq!(b.union(&a), a.union(&b));
    }

    #[test]
    fn an_overlap_is_what_is_shared_of_what_is_covered() {
        let a = place(0.0, 0.0, 2.0, 2.0);
        assert_eq!(a.overlap(&a), Ratio(1.0));
        // 2 of 4 + 4 - 2, and a quarter of it.
        assert_eq!(a.overlap(&place(1.0, 0.0, 3.0, 2.0)), Ratio(1.0 / 3.0));
        assert_eq!(a.overlap(&place(0.0, 0.0, 1.0, 1.0)), Ratio(0.25));
        // Side by side, and apart both ways at once.
        assert_eq!(a.overlap(&place(2.0, 0.0, 4.0, 2.0)), Ratio(0.0));
        assert_eq!(a.overlap(&place(5.0, 5.0, 6.0, 6.0)), Ratio(0.0));
    }

    #[test]
    fn what_covers_nothing_shares_nothing() {
        let none = place(1.0, 1.0, 1.0, 1.0);
        assert_eq!(none.overlap(&none), Ratio(0.0));
        let turned = place(2.0, 2.0, 0.0, 0.0);
        assert_eq!(turned.overlap(&place(0.0, 0.0, 2.0, 2.0)), Ratio(0.0));
        let nan = f64::NAN;
        assert_eq!(none.overlap(&place(nan, nan, nan, nan)), Ratio(0.0));
    }
}
