//! Years in which nothing changes: how often something is said to change all the same.

use casefile::progress::{Point, Series, Verdict, judge};
use units::{Day, MeasureName, TaskKind};

const YEARS: u32 = 300;

/// SplitMix64, and from it normal deviates by the sum of twelve uniform ones.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (word ^ (word >> 31)) as f64 / u64::MAX as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// Every measure over some weeks of pages that differ by noise alone; `round` values tie.
fn year(dice: &mut Dice, weeks: i32, round: bool) -> Vec<Series> {
    let mut one = |measure: &MeasureName| {
        let points = (0..weeks).map(|week| {
            let value = 5.0 + dice.normal();
            let value = if round { value.round() } else { value };
            Point {
                day: Day(20_000 + 7 * week),
                value,
                se: 0.3,
            }
        });
        Series {
            measure: *measure,
            kind: TaskKind::Copied,
            points: points.collect(),
        }
    };
    MeasureName::ALL.iter().map(&mut one).collect()
}

fn false_alarms(weeks: i32, round: bool) -> u32 {
    let mut dice = Dice(1_968);
    let alarms = (0..YEARS).filter(|_| {
        judge(&year(&mut dice, weeks, round))
            .iter()
            .any(|judged| matches!(judged.verdict, Verdict::MoreThanNoise { .. }))
    });
    alarms.count() as u32
}

#[test]
fn at_most_one_noisy_year_in_twenty_is_taken_for_a_change() {
    // 5 % of 300 years is 15; 27 is exceeded with a chance below one in a thousand at 5 %
    // (binomial: mean 15, standard deviation 3.77, so 15 + 3.1 x 3.77 = 26.7).
    for (weeks, round) in [(40, false), (40, true), (9, false), (6, false), (12, true)] {
        let alarms = false_alarms(weeks, round);
        println!("{weeks} weeks, rounded {round}: {alarms} of {YEARS} years");
        assert!(
            alarms <= 27,
            "{weeks} weeks, rounded {round}: {alarms} of {YEARS} years"
        );
    }
}

#[test]
fn a_real_change_in_one_measure_is_seen_in_most_years() {
    // One measure improves by three times its noise over forty weeks, the others do not.
    let mut dice = Dice(2_009);
    let seen = (0..100).filter(|_| {
        let mut year = year(&mut dice, 40, false);
        let slant = year
            .iter_mut()
            .find(|series| series.measure == MeasureName::SlantSd)
            .unwrap();
        for (week, point) in slant.points.iter_mut().enumerate() {
            point.value -= 3.0 * week as f64 / 39.0;
        }
        let judged = judge(&year);
        year.iter().zip(&judged).any(|(series, judged)| {
            series.measure == MeasureName::SlantSd
                && matches!(judged.verdict, Verdict::MoreThanNoise { .. })
        })
    });
    let seen = seen.count();
    println!("seen in {seen} of 100 years");
    assert!(seen >= 90, "seen in {seen} of 100 years");
}
