//! The pages of a focus against the pages before it.

use units::Day;

use super::{Series, nap};

/// How the pages since a focus began lie against those before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AroundFocus {
    /// Non-overlap of all pairs: the share of pairs, one page before and one in the focus, in which
    /// the later value is larger; ties count half.
    pub larger: f64,
    /// Pages before.
    pub before: usize,
    /// Pages in the focus.
    pub during: usize,
}

/// Compares the pages from the first day of a focus to its last (`None` while it goes on) with those
/// before it; `None` with fewer than three pages before or five in it.
///
/// A description and not a test: it takes all pages before for the pupil's level, a course that was
/// rising already counts for the focus, and a focus is often set after an odd page. So no verdict is
/// made of it; the only verdict is that of [`super::judge`].
pub fn around_focus(series: &Series, from: Day, to: Option<Day>) -> Option<AroundFocus> {
    let values = |wanted: &dyn Fn(Day) -> bool| -> Vec<f64> {
        let points = series.points.iter();
        let wanted = points.filter(|point| point.value.is_finite() && wanted(point.day));
        wanted.map(|point| point.value).collect()
    };
    let before = values(&|day| day < from);
    let during = values(&|day| day >= from && to.is_none_or(|to| day <= to));
    Some(AroundFocus {
        larger: nap(&before, &during)?,
        before: before.len(),
        during: during.len(),
    })
}

#[cfg(test)]
mod tests {
    use units::{MeasureName, TaskKind};

    use super::super::Point;
    use super::*;

    fn series(values: &[f64]) -> Series {
        let points = values.iter().zip(0..).map(|(value, day)| Point {
            day: Day(day),
            value: *value,
            se: 0.1,
        });
        Series {
            measure: MeasureName::Wander,
            kind: TaskKind::Copied,
            points: points.collect(),
        }
    }

    #[test]
    fn the_first_example_of_parker_and_vannest_2009_as_a_focus() {
        // Parker & Vannest 2009, Behavior Therapy 40:357-367; the second stretch is the focus, and
        // what comes after its last day does not count.
        let series = series(&[
            4.0, 3.0, 4.0, 3.0, 4.0, 7.0, 5.0, 2.0, 3.0, 2.0, // before
            5.0, 9.0, 7.0, 9.0, 7.0, 5.0, 9.0, 11.0, 11.0, 10.0, 9.0, // in it
            0.0, 0.0, // after
        ]);
        let found = around_focus(&series, Day(10), Some(Day(20))).unwrap();
        assert!((found.larger - 0.963_636).abs() < 1e-6, "{found:?}");
        assert_eq!((found.before, found.during), (10, 11));
        let going_on = around_focus(&series, Day(10), None).unwrap();
        assert_eq!(going_on.during, 13);
        assert_eq!(around_focus(&series, Day(2), None), None);
        assert_eq!(around_focus(&series, Day(20), None), None);
    }
}
