//! The school year that ends this week.

use units::{Day, Moment};

/// One week in which a page was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Week {
    /// Its Monday.
    pub monday: Day,
    /// Which of the year's texts fits the season.
    pub text: usize,
}

/// Invented school holidays as (month, day) of their first and last day.
const HOLIDAYS: [((u32, u32), (u32, u32)); 7] = [
    ((12, 20), (12, 31)),
    ((1, 1), (1, 3)),
    ((2, 13), (2, 19)),
    ((4, 3), (4, 16)),
    ((5, 25), (5, 31)),
    ((7, 29), (8, 25)),
    ((10, 24), (10, 30)),
];

/// The Monday of a day's week: 1970-01-01 was a Thursday.
fn monday(day: Day) -> Day {
    Day(day.0 - (day.0 + 3).rem_euclid(7))
}

fn in_holidays(day: Day) -> bool {
    let (_, month, date) = day.civil();
    HOLIDAYS
        .iter()
        .any(|(from, to)| (*from..=*to).contains(&(month, date)))
}

/// The last `count` school weeks up to and with the week of `today`, oldest first. The week of
/// `today` counts even in the holidays, so that the newest page is always new.
pub(super) fn school_weeks(today: Day, count: usize) -> Vec<Week> {
    let this = monday(today);
    let mut weeks: Vec<Week> = (0..)
        .map(|back| Day(this.0 - 7 * back))
        .filter(|monday| *monday == this || !in_holidays(Day(monday.0 + 2)))
        .take(count)
        .map(|monday| Week {
            monday,
            text: season(monday),
        })
        .collect();
    weeks.reverse();
    weeks
}

/// How many school weeks lie between the beginning of December before and this week.
fn season(monday: Day) -> usize {
    let (year, month, _) = Day(monday.0 + 2).civil();
    let first_of_december = Day::from_civil(if month == 12 { year } else { year - 1 }, 12, 1);
    let from = first_of_december.map_or(monday.0, |day| day.0);
    (0..)
        .map(|week| Day(monday.0 - 7 * (week + 1)))
        .take_while(|before| before.0 + 2 >= from)
        .filter(|before| !in_holidays(Day(before.0 + 2)))
        .count()
}

/// A time of day, UTC.
pub(super) fn at(day: Day, hour: i64, minute: i64) -> Moment {
    Moment((i64::from(day.0) * 24 + hour) * 3_600_000 + minute * 60_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_year_of_school_weeks_ends_this_week_and_skips_the_holidays() {
        let today: Day = "2026-11-25".parse().expect("a day");
        let weeks = school_weeks(today, 38);
        assert_eq!(weeks.len(), 38);
        assert_eq!(weeks[37].monday.to_string(), "2026-11-23");
        assert!(
            weeks
                .iter()
                .all(|week| (week.monday.0 + 3).rem_euclid(7) == 0)
        );
        assert!(
            weeks
                .iter()
                .all(|week| !in_holidays(Day(week.monday.0 + 2)))
        );
        assert!(weeks.windows(2).all(|pair| pair[0].monday < pair[1].monday));
    }

    #[test]
    fn the_texts_follow_the_seasons() {
        let text = |day: &str| season(monday(day.parse().expect("a day")));
        assert_eq!(text("2025-12-03"), 0);
        assert!((23..=28).contains(&text("2026-07-01")));
        assert!(text("2026-11-25") <= 40);
    }
}
