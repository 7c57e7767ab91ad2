//! Calendar days and moments, without a clock: whoever has one hands the value in.

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A calendar day: days since 1970-01-01, written `YYYY-MM-DD`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS), ts(as = "String"))]
pub struct Day(pub i32);

/// Milliseconds since 1970-01-01T00:00:00Z, as the writing device's clock had it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS), ts(as = "f64"))]
#[serde(transparent)]
pub struct Moment(pub i64);

impl Moment {
    /// The day in UTC.
    pub fn day(self) -> Day {
        Day(self.0.div_euclid(86_400_000) as i32)
    }
}

impl Day {
    /// Year, month 1-12 and day 1-31 in the Gregorian calendar.
    pub fn civil(self) -> (i32, u32, u32) {
        // Years counted from March make the leap day the last of the year.
        let days = i64::from(self.0) + 719_468;
        let era = days.div_euclid(146_097);
        let of_era = days.rem_euclid(146_097);
        let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let from_march = (5 * of_year + 2) / 153;
        let day = (of_year - (153 * from_march + 2) / 5 + 1) as u32;
        let month = if from_march < 10 {
            from_march + 3
        } else {
            from_march - 9
        } as u32;
        let year = year_of_era + era * 400 + i64::from(month <= 2);
        (year as i32, month, day)
    }

    /// The day of a civil date; `None` where the calendar has no such day or the year is outside
    /// 1900 to 9999.
    pub fn from_civil(year: i32, month: u32, day: u32) -> Option<Self> {
        if !(1900..=9999).contains(&year) || !(1..=12).contains(&month) || !(1..=31).contains(&day)
        {
            return None;
        }
        let from_march_year = i64::from(year) - i64::from(month <= 2);
        let era = from_march_year.div_euclid(400);
        let year_of_era = from_march_year.rem_euclid(400);
        let from_march = i64::from((month + 9) % 12);
        let of_year = (153 * from_march + 2) / 5 + i64::from(day) - 1;
        let of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + of_year;
        let found = Self((era * 146_097 + of_era - 719_468) as i32);
        (found.civil() == (year, month, day)).then_some(found)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = self.civil();
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

impl FromStr for Day {
    type Err = &'static str;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        const SHAPE: &str = "a day is written YYYY-MM-DD";
        let mut parts = text.splitn(3, '-');
        let mut next = || {
            parts
                .next()
                .filter(|part| part.bytes().all(|b| b.is_ascii_digit()))
        };
        let (Some(year), Some(month), Some(day)) = (next(), next(), next()) else {
            return Err(SHAPE);
        };
        if year.len() != 4 || month.len() != 2 || day.len() != 2 {
            return Err(SHAPE);
        }
        let number = |part: &str| part.parse::<u32>().map_err(|_| SHAPE);
        Self::from_civil(number(year)? as i32, number(month)?, number(day)?)
            .ok_or("the calendar has no such day")
    }
}

impl Serialize for Day {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?
            .parse()
            .map_err(de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_days_of_the_gregorian_calendar() {
        // 2000-03-01 is day 11,017 of POSIX time (IEEE Std 1003.1, "Seconds Since the Epoch").
        assert_eq!("2000-03-01".parse(), Ok(Day(11_017)));
        assert_eq!("1970-01-01".parse(), Ok(Day(0)));
        assert!("1900-02-29".parse::<Day>().is_err());
        assert!("2024-02-29".parse::<Day>().is_ok());
    }

    #[test]
    fn every_day_of_two_centuries_survives_text_and_back() {
        for day in -25_000..50_000 {
            assert_eq!(Day(day).to_string().parse(), Ok(Day(day)));
        }
    }
}
