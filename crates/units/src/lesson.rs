//! When a pupil comes, each week.

use serde::{Deserialize, Serialize};

use crate::Day;

/// A day of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Weekday {
    /// The first day of the week (ISO 8601).
    Monday,
    /// The second.
    Tuesday,
    /// The third.
    Wednesday,
    /// The fourth.
    Thursday,
    /// The fifth.
    Friday,
    /// The sixth.
    Saturday,
    /// The seventh.
    Sunday,
}

impl Weekday {
    /// All seven, Monday first.
    pub const ALL: [Self; 7] = [
        Self::Monday,
        Self::Tuesday,
        Self::Wednesday,
        Self::Thursday,
        Self::Friday,
        Self::Saturday,
        Self::Sunday,
    ];
}

impl Day {
    /// Its day of the week.
    pub fn weekday(self) -> Weekday {
        // 1970-01-01 was a Thursday.
        Weekday::ALL[(self.0 + 3).rem_euclid(7) as usize]
    }
}

/// A weekly moment: a lesson, or a reminder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Lesson {
    /// The day.
    pub weekday: Weekday,
    /// Minutes after midnight, 0 to 1,439, by the clock on the wall.
    pub minute: u16,
}

impl Lesson {
    /// Minutes in a day.
    pub const DAY: u16 = 1_440;

    /// The newest day of it before another day.
    pub fn last_before(self, day: Day) -> Day {
        let back = (day.weekday() as i32 - self.weekday as i32).rem_euclid(7);
        Day(day.0 - if back == 0 { 7 } else { back })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_of_the_week_as_the_calendar_has_them() {
        // ISO 8601-1:2019: 2000-01-01 was a Saturday.
        let day: Day = "2000-01-01".parse().unwrap();
        assert_eq!(day.weekday(), Weekday::Saturday);
        for (at, weekday) in Weekday::ALL.iter().enumerate() {
            assert_eq!(Day(day.0 + 2 + at as i32).weekday(), *weekday);
        }
    }

    #[test]
    fn the_last_lesson_lies_one_to_seven_days_back() {
        let monday: Day = "2000-01-03".parse().unwrap();
        for (at, &weekday) in Weekday::ALL.iter().enumerate() {
            let lesson = Lesson { weekday, minute: 0 };
            for day in 0..7 {
                let today = Day(monday.0 + day);
                let last = lesson.last_before(today);
                assert_eq!(last.weekday(), weekday);
                assert!((1..=7).contains(&(today.0 - last.0)), "{at} {day}");
            }
        }
    }
}
