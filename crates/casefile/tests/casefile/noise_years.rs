//! Years in which nothing changes: how often something is said to change all the same. And years in
//! which one measure changes: how often that is seen.
//!
//! The short runs belong to every test run. The tables over 2,000 years each are printed by
//! `cargo test -p casefile --test casefile tables -- --ignored --nocapture`.

use casefile::progress::{Judged, Verdict, holm, judge};
use units::{MeasureName, TaskKind};

use crate::years::{Dice, Year, after, alarms};

/// One page a week, all of one kind, measures as in life.
const PLAIN: Year = Year {
    pages: 40,
    carried: 0.0,
    lifelike: true,
    kinds: false,
};
const CARRIED: Year = Year {
    carried: 0.3,
    ..PLAIN
};

/// Who looks once, at the end.
fn at_the_end(year: Year, years: u32, seed: u64) -> u32 {
    let mut dice = Dice(seed);
    let misled = (0..years).filter(|_| alarms(&year.of_noise(&mut dice)));
    misled.count() as u32
}

/// Who looks at every page as it comes, and remembers the one time that something was shown.
fn in_any_week(year: Year, years: u32, seed: u64) -> u32 {
    let mut dice = Dice(seed);
    let misled = (0..years).filter(|_| {
        let noise = year.of_noise(&mut dice);
        (1..=year.pages).any(|pages| alarms(&after(&noise, pages)))
    });
    misled.count() as u32
}

/// How often a change of one measure over the whole year, in units of its page-to-page spread, is
/// shown at its end; and how often it would be if nobody looked before.
fn seen(year: Year, change: f64, years: u32, seed: u64) -> (u32, u32) {
    let mut dice = Dice(seed);
    let (mut shown, mut at_one_look) = (0, 0);
    for _ in 0..years {
        let mut series = year.of_noise(&mut dice);
        let at = series
            .iter()
            .position(|one| one.measure == MeasureName::Slant && one.kind == TaskKind::Copied)
            .expect("slant is among the measures");
        for (page, point) in series[at].points.iter_mut().enumerate() {
            point.value += change * page as f64 / (year.pages - 1) as f64;
        }
        let judged = judge(&series);
        let told = matches!(judged[at].verdict, Verdict::MoreThanNoise { .. });
        shown += u32::from(told);
        at_one_look += u32::from(looked_at_once(&judged)[at]);
    }
    (shown, at_one_look)
}

/// What would be told if this were the only look: corrected for the number of series alone. Every
/// series here has enough pages.
fn looked_at_once(judged: &[Judged]) -> Vec<bool> {
    let chances: Vec<f64> = judged.iter().filter_map(|judged| judged.p).collect();
    holm(&chances).into_iter().map(|p| p < 0.05).collect()
}

/// Who looks once at the end, and would be told more readily for that.
fn at_one_look(year: Year, years: u32, seed: u64) -> u32 {
    let mut dice = Dice(seed);
    let misled = (0..years).filter(|_| {
        let judged = judge(&year.of_noise(&mut dice));
        looked_at_once(&judged).contains(&true)
    });
    misled.count() as u32
}

/// The most alarms that a rate leaves likely: its mean and 3.1 standard deviations of the binomial
/// distribution, passed with a chance of one in a thousand.
fn most(rate: f64, years: u32) -> u32 {
    let mean = rate * f64::from(years);
    (mean + 3.1 * (mean * (1.0 - rate)).sqrt()).floor() as u32
}

#[test]
fn at_most_one_noisy_year_in_twenty_is_taken_for_a_change() {
    let years = 300;
    let normal = Year {
        lifelike: false,
        ..PLAIN
    };
    let kinds = Year {
        kinds: true,
        ..PLAIN
    };
    for (name, year) in [
        ("40 pages", PLAIN),
        ("40 normal pages", normal),
        ("40 pages of three kinds", kinds),
        ("15 pages", Year { pages: 15, ..PLAIN }),
        ("9 pages", Year { pages: 9, ..PLAIN }),
        ("6 pages", Year { pages: 6, ..PLAIN }),
    ] {
        let found = at_the_end(year, years, 1_968);
        assert!(found <= most(0.05, years), "{name}: {found} of {years}");
    }
}

#[test]
fn pages_that_carry_over_mislead_in_one_year_in_ten_at_most() {
    let years = 300;
    for pages in [40, 15, 9] {
        let found = at_the_end(Year { pages, ..CARRIED }, years, 1_998);
        assert!(
            found <= most(0.10, years),
            "{pages} pages: {found} of {years}"
        );
    }
}

#[test]
fn looking_every_week_misleads_no_more_often() {
    let years = 60;
    for (rate, year) in [(0.05, PLAIN), (0.10, CARRIED)] {
        let found = in_any_week(year, years, 1_983);
        assert!(found <= most(rate, years), "{rate}: {found} of {years}");
    }
}

#[test]
fn a_real_change_in_one_measure_is_seen_in_most_years() {
    let years = 200;
    let (found, at_one_look) = seen(PLAIN, 3.0, years, 2_009);
    assert!(
        f64::from(found) > 0.8 * f64::from(years),
        "{found} of {years}"
    );
    assert!(found <= at_one_look, "looking every week costs power");
    let (none, _) = seen(PLAIN, 0.0, years, 2_009);
    assert!(none <= most(0.05, years), "{none} of {years}");
}

/// A rate with its 95 % interval (Wilson 1927, J. Am. Stat. Assoc. 22:209-212).
fn rate(found: u32, of: u32) -> String {
    let (n, z) = (f64::from(of), 1.96);
    let share = f64::from(found) / n;
    let middle = (share + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    let percent = |share: f64| 100.0 * share.max(0.0);
    format!(
        "{:5.2} % ({:5.2} to {:5.2})",
        percent(share),
        percent(middle - half),
        percent(middle + half)
    )
}

#[test]
#[ignore = "2,000 years for each row: some minutes"]
fn tables_of_false_alarms() {
    let years = 2_000;
    println!(
        "pages  carried  measures  kinds   shown in any week       shown at the end        told at one look"
    );
    for (carried, bar) in [(0.0, 0.05), (0.3, 0.10)] {
        for (pages, lifelike, kinds) in [
            (40, true, false),
            (40, false, false),
            (40, true, true),
            (15, true, false),
            (9, true, false),
        ] {
            let year = Year {
                pages,
                carried,
                lifelike,
                kinds,
            };
            let end = at_the_end(year, years, 1);
            let any = in_any_week(year, years, 1);
            let once = at_one_look(year, years, 1);
            println!(
                "{pages:5}  {carried:7}  {:8}  {:5}   {}   {}   {}",
                if lifelike { "lifelike" } else { "normal" },
                if kinds { 3 } else { 1 },
                rate(any, years),
                rate(end, years),
                rate(once, years),
            );
            assert!(f64::from(any) <= bar * f64::from(years), "{any} of {years}");
            assert!(end <= any, "the end is one of the weeks");
            assert!(
                f64::from(once) <= bar * f64::from(years),
                "{once} of {years}"
            );
        }
    }
}

#[test]
#[ignore = "2,000 years for each row: some minutes"]
fn tables_of_power() {
    let years = 2_000;
    println!("pages  carried  change in spreads   shown at the end         told at one look");
    for carried in [0.0, 0.3] {
        for pages in [40, 20, 12] {
            for change in [1.0, 2.0, 3.0] {
                let year = Year {
                    pages,
                    carried,
                    ..PLAIN
                };
                let (found, once) = seen(year, change, years, 2);
                println!(
                    "{pages:5}  {carried:7}  {change:17}   {}   {}",
                    rate(found, years),
                    rate(once, years)
                );
            }
        }
    }
}
