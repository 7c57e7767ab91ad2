//! The statistics against general-purpose libraries: scipy 1.17.1 (theilslopes, kendalltau,
//! mannwhitneyu), pymannkendall 1.4.3 and statsmodels 0.15.0 (multipletests). Their figures are
//! written by `tests/reference/progress.py`.

use casefile::progress::{holm, mann_kendall, nap, theil_sen};
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    trends: Vec<Trend>,
    pairs: Vec<Pairs>,
    holm: Vec<Corrected>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Trend {
    days: Vec<f64>,
    values: Vec<f64>,
    slope: f64,
    intercept: f64,
    low: f64,
    high: f64,
    s: Option<f64>,
    variance: Option<f64>,
    z: Option<f64>,
    p: Option<f64>,
    exact_p: Option<f64>,
    plain_p: Option<f64>,
}

#[derive(Deserialize)]
struct Pairs {
    before: Vec<f64>,
    after: Vec<f64>,
    share: f64,
}

#[derive(Deserialize)]
struct Corrected {
    given: Vec<f64>,
    adjusted: Vec<f64>,
}

fn reference() -> Reference {
    let text = include_str!("../../../../tests/reference/progress.json");
    serde_json::from_str(text).expect("the file is as the script writes it")
}

impl Trend {
    fn points(&self) -> Vec<(f64, f64)> {
        let days = self.days.iter().copied();
        days.zip(self.values.iter().copied()).collect()
    }
}

fn near(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() <= 1e-9 * (1.0 + wanted.abs())
}

#[test]
fn slopes_and_intercepts_as_scipy_has_them() {
    let trends = reference().trends;
    assert!(trends.len() > 100);
    for trend in trends {
        let line = theil_sen(&trend.points(), 0.95).expect("days differ");
        assert!(near(line.slope, trend.slope), "{line:?} {:?}", trend.days);
        assert!(near(line.intercept, trend.intercept), "{line:?}");
    }
}

#[test]
fn intervals_of_slopes_reach_as_far_as_those_of_scipy_or_one_rank_further() {
    // scipy rounds the ranks of the interval's ends, we go outwards.
    for trend in reference().trends {
        let points = trend.points();
        let line = theil_sen(&points, 0.95).expect("days differ");
        let mut slopes = Vec::new();
        for (at, a) in points.iter().enumerate() {
            for b in points[at + 1..].iter().filter(|b| b.0 != a.0) {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
        let between = |from: f64, to: f64| {
            let inside = slopes.iter().filter(|slope| {
                **slope > from && **slope < to && !near(**slope, from) && !near(**slope, to)
            });
            inside.count()
        };
        assert!(line.low <= trend.low + 1e-9, "{line:?} {}", trend.low);
        assert!(line.high >= trend.high - 1e-9, "{line:?} {}", trend.high);
        // Ties on both sides: scipy leaves out the last two terms of the variance (Kendall 1970).
        if trend.s.is_some() {
            assert_eq!(between(line.low, trend.low), 0, "{line:?} {}", trend.low);
            assert_eq!(between(trend.high, line.high), 0, "{line:?} {}", trend.high);
        }
    }
}

#[test]
fn tests_of_trend_as_pymannkendall_and_scipy_have_them() {
    let (mut normal, mut exact) = (0, 0);
    for trend in reference().trends {
        let found = mann_kendall(&trend.points());
        if let Some(s) = trend.s {
            assert_eq!(found.s as f64, s);
            assert!(near(found.variance, trend.variance.expect("with s")));
            assert!(near(found.z, trend.z.expect("with s")), "{found:?}");
        }
        let untied = trend.exact_p.is_some();
        if let Some(p) = trend.p.filter(|_| trend.values.len() >= 10) {
            normal += 1;
            assert!(near(found.p, p), "{found:?}");
        } else if untied {
            exact += 1;
            assert!(
                near(found.p, trend.exact_p.expect("asked for")),
                "{found:?}"
            );
        }
    }
    assert!(normal >= 20 && exact >= 10, "{normal} {exact}");
}

#[test]
fn variances_with_ties_in_days_and_values_as_scipy_has_them() {
    // scipy's normal approximation has no continuity correction: z is S over its deviation alone.
    let mut compared = 0;
    for trend in reference().trends {
        let (found, Some(wanted)) = (mann_kendall(&trend.points()), trend.plain_p) else {
            continue;
        };
        let z = found.s as f64 / found.variance.sqrt();
        let p = libm::erfc(z.abs() / core::f64::consts::SQRT_2);
        assert!(near(p, wanted), "{found:?}: {p} and {wanted}");
        compared += usize::from(trend.s.is_none());
    }
    assert!(compared >= 20, "{compared}");
}

#[test]
fn the_share_of_rising_pairs_is_the_u_of_mann_and_whitney() {
    for pairs in reference().pairs {
        let found = nap(&pairs.before, &pairs.after).expect("enough pages");
        assert!(near(found, pairs.share), "{found} {}", pairs.share);
    }
}

#[test]
fn corrections_for_many_measures_as_statsmodels_has_them() {
    for corrected in reference().holm {
        for (found, wanted) in holm(&corrected.given).iter().zip(&corrected.adjusted) {
            assert!(near(*found, *wanted), "{found} {wanted}");
        }
    }
}
