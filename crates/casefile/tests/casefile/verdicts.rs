//! What is said of series whose course is known.

use casefile::progress::{Direction, Judged, Point, Series, Verdict, judge};
use units::{Day, MeasureName, TaskKind};

/// Weekly pages with these values.
fn weekly(measure: MeasureName, se: f64, values: &[f64]) -> Series {
    let points = values.iter().zip(0..);
    let point = |(value, week): (&f64, i32)| Point {
        day: Day(20_000 + 7 * week),
        value: *value,
        se,
    };
    Series {
        measure,
        kind: TaskKind::Copied,
        points: points.map(point).collect(),
    }
}

fn one(series: Series) -> Judged {
    judge(&[series]).remove(0)
}

/// A straight course with a small, fixed unevenness.
fn course(from: f64, to: f64, pages: usize) -> Vec<f64> {
    let wobble = [0.02, -0.03, 0.01, -0.01, 0.03, -0.02];
    (0..pages)
        .map(|page| from + (to - from) * page as f64 / (pages - 1) as f64 + wobble[page % 6])
        .collect()
}

fn direction(measure: MeasureName, from: f64, to: f64) -> Direction {
    match one(weekly(measure, 0.01, &course(from, to, 20))).verdict {
        Verdict::MoreThanNoise { direction } => direction,
        other => panic!("{other:?}"),
    }
}

#[test]
fn fewer_than_five_pages_say_nothing() {
    let judged = one(weekly(MeasureName::Wander, 0.1, &[5.0, 4.0, 3.0, 2.0]));
    assert_eq!(judged.verdict, Verdict::TooFewPages);
    assert_eq!(
        (judged.noise, judged.slope_per_week, judged.p),
        (None, None, None)
    );
    let mut one_day = weekly(MeasureName::Wander, 0.1, &[5.0, 4.0, 3.0, 2.0, 1.0, 0.0]);
    one_day
        .points
        .iter_mut()
        .for_each(|point| point.day = Day(20_000));
    assert_eq!(one(one_day).verdict, Verdict::TooFewPages);
    assert!(judge(&[]).is_empty());
}

#[test]
fn a_steady_course_is_told_with_its_slope_and_change() {
    let judged = one(weekly(MeasureName::Wander, 0.01, &course(1.5, 0.5, 21)));
    assert_eq!(
        judged.verdict,
        Verdict::MoreThanNoise {
            direction: Direction::Better
        }
    );
    let near = |found: Option<f64>, wanted: f64| (found.unwrap() - wanted).abs() < 0.04;
    assert!(
        (judged.slope_per_week.unwrap() + 0.05).abs() < 0.002,
        "{judged:?}"
    );
    assert!(
        near(judged.start, 1.5) && near(judged.change, -1.0),
        "{judged:?}"
    );
    assert!(judged.slope_low <= judged.slope_per_week);
    assert!(judged.slope_per_week <= judged.slope_high);
}

#[test]
fn each_measure_has_its_own_wanted_direction() {
    use Direction::{Better, Neither, Worse};
    assert_eq!(direction(MeasureName::SlantSd, 9.0, 5.0), Better);
    assert_eq!(direction(MeasureName::SlantSd, 5.0, 9.0), Worse);
    assert_eq!(direction(MeasureName::OnLine, 0.4, 0.9), Better);
    assert_eq!(direction(MeasureName::OnLine, 0.9, 0.4), Worse);
    assert_eq!(direction(MeasureName::XHeight, 3.0, 2.0), Neither);
    assert_eq!(direction(MeasureName::Slant, -5.0, 5.0), Neither);
    assert_eq!(direction(MeasureName::Drift, -2.0, -0.2), Better);
    assert_eq!(direction(MeasureName::Drift, 2.0, 0.2), Better);
    assert_eq!(direction(MeasureName::Drift, 0.2, 2.0), Worse);
    assert_eq!(direction(MeasureName::Drift, 2.0, -0.3), Better);
    assert_eq!(direction(MeasureName::Drift, 0.3, -2.0), Worse);
    assert_eq!(direction(MeasureName::Drift, 2.0, -2.0), Neither);
}

#[test]
fn pages_that_agree_better_than_the_camera_can_see_are_still_noise() {
    let values = course(1.00, 1.10, 12);
    let sharp = one(weekly(MeasureName::Wander, 0.001, &values));
    assert!(
        matches!(sharp.verdict, Verdict::MoreThanNoise { .. }),
        "{sharp:?}"
    );
    let blunt = one(weekly(MeasureName::Wander, 0.5, &values));
    assert_eq!(blunt.noise, Some(0.5));
    assert_eq!(blunt.verdict, Verdict::NotYetMoreThanNoise);
}

#[test]
fn the_more_is_looked_at_the_more_it_takes() {
    // Eight pages, 24 of 28 pairs falling: significant alone, not among seventeen.
    let falling = weekly(
        MeasureName::Wander,
        0.01,
        &[8.0, 7.0, 5.0, 6.0, 3.0, 4.0, 2.0, 1.0],
    );
    assert!(matches!(
        one(falling.clone()).verdict,
        Verdict::MoreThanNoise { .. }
    ));
    let level = [4.0, 5.0, 4.2, 4.8, 4.9, 4.1, 4.6, 4.4];
    let mut all: Vec<Series> = MeasureName::ALL
        .iter()
        .map(|name| weekly(*name, 0.01, &level))
        .collect();
    all[1].points = falling.points.clone();
    let rising_fast = judge(&all);
    assert_eq!(rising_fast.len(), all.len());
    assert!(rising_fast[1].p_corrected.unwrap() > rising_fast[1].p.unwrap());
    // Series with too few pages are not counted among those looked at.
    let mut with_short = vec![falling.clone()];
    with_short.extend(
        MeasureName::ALL
            .iter()
            .map(|name| weekly(*name, 0.01, &level[..3])),
    );
    let judged = judge(&with_short);
    assert_eq!(judged[0], one(falling));
    assert!(
        judged[1..]
            .iter()
            .all(|other| other.verdict == Verdict::TooFewPages)
    );
}

#[test]
fn the_order_in_which_pages_are_given_does_not_matter() {
    let series = weekly(MeasureName::Wander, 0.05, &course(1.5, 0.9, 15));
    let mut backwards = series.clone();
    backwards.points.reverse();
    assert_eq!(one(series), one(backwards));
}

#[test]
fn values_that_are_no_numbers_are_left_out() {
    let mut series = weekly(MeasureName::Wander, 0.05, &course(1.5, 0.9, 8));
    let whole = one(series.clone());
    series.points.push(Point {
        day: Day(20_900),
        value: f64::NAN,
        se: 0.1,
    });
    assert_eq!(one(series), whole);
}

#[test]
fn a_level_line_is_never_a_change() {
    let judged = one(weekly(MeasureName::Wander, 0.0, &[2.0; 30]));
    assert_eq!(judged.verdict, Verdict::NotYetMoreThanNoise);
    assert_eq!((judged.change, judged.noise), (Some(0.0), Some(0.0)));
}
