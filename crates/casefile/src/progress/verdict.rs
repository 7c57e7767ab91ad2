//! What may be said of a pupil's measures.

use units::{Day, MeasureName, TaskKind};

use super::autocorrelation::{LagOne, inflation, shared};
use super::looks::looked_at_every_page;
use super::normal::{two_sided_p, two_sided_z, widened};
use super::theil_sen::Slopes;
use super::{Better, TheilSen, better, camera_noise, holm, mann_kendall, spread_about, square};

/// Fewest pages from which anything is said.
pub const MIN_PAGES: usize = 5;
/// Fewest different days on which they were written.
const MIN_DAYS: usize = 3;
/// Chance of any false alarm in a year, among all measures looked at, every week.
const LEVEL: f64 = 0.05;
/// Error of a slope's interval.
const OUTSIDE: f64 = 0.05;
const DAYS_A_WEEK: f64 = 7.0;

/// One page's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The day it was written.
    pub day: Day,
    /// The value, in the measure's unit.
    pub value: f64,
    /// Standard error of measuring that page, same unit.
    pub se: f64,
}

/// One measure over the pages of one task kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The measure.
    pub measure: MeasureName,
    /// The task kind of every page.
    pub kind: TaskKind,
    /// Pages in any order.
    pub points: Vec<Point>,
}

/// Where a change leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// In the wanted direction.
    Better,
    /// Against it.
    Worse,
    /// The measure has no wanted direction, or passed zero and lies about as far on the other side.
    Neither,
}

/// What may be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Fewer than five pages, or fewer than three days.
    TooFewPages,
    /// The change is more than noise.
    MoreThanNoise {
        /// Where it leads.
        direction: Direction,
    },
    /// It is not, or not yet.
    NotYetMoreThanNoise,
}

/// One series judged. All figures are `None` with too few pages.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Theil-Sen slope, units a week.
    pub slope_per_week: Option<f64>,
    /// Lower end of the slope's 95 % interval, units a week.
    pub slope_low: Option<f64>,
    /// Upper end; the interval allows for what pages carry over.
    pub slope_high: Option<f64>,
    /// The trend line on the first day.
    pub start: Option<f64>,
    /// The trend line on the last day less that on the first.
    pub change: Option<f64>,
    /// Page-to-page noise: the pupil's own spread about the trend, never below that of the camera.
    pub noise: Option<f64>,
    /// What a page carries over from the one before (0 to 0.9), as reckoned with.
    pub autocorrelation: Option<f64>,
    /// Two-sided probability of such a trend where there is none, for this series alone and one
    /// look.
    pub p: Option<f64>,
    /// The same corrected for the number of series judged together and for looking at every page.
    pub p_corrected: Option<f64>,
    /// What may be said.
    pub verdict: Verdict,
}

impl Judged {
    const TOO_FEW: Self = Self {
        slope_per_week: None,
        slope_low: None,
        slope_high: None,
        start: None,
        change: None,
        noise: None,
        autocorrelation: None,
        p: None,
        p_corrected: None,
        verdict: Verdict::TooFewPages,
    };
}

/// Judges together all series that are looked at together; same order.
///
/// A change is more than noise when both tests say so after all corrections: that of Mann-Kendall
/// on the order of the pages, and that of the slope against the page-to-page noise, which also
/// speaks up when pages agree better by chance than the camera could make them. Corrected is for
/// what pages carry over from one to the next, for the number of series (Holm), and for looking
/// again with every page.
pub fn judge(series: &[Series]) -> Vec<Judged> {
    let lines: Vec<Option<Trend>> = series.iter().map(Trend::of).collect();
    let carried = carried_over(series, &lines);
    let tested: Vec<Option<Tested>> = lines
        .into_iter()
        .zip(carried)
        .map(|(trend, carried)| Some(trend?.tested(carried)))
        .collect();
    let chances: Vec<f64> = tested.iter().flatten().map(|tested| tested.p).collect();
    let mut corrected = holm(&chances).into_iter();
    let judged = series.iter().zip(tested).map(|(series, tested)| {
        let both = tested.and_then(|tested| Some((tested, corrected.next()?)));
        both.map_or(Judged::TOO_FEW, |(tested, corrected)| {
            tested.judged(series.measure, corrected)
        })
    });
    judged.collect()
}

/// The autocorrelation of each series, shared among those of one task kind; 0 for those with too
/// few pages.
fn carried_over(series: &[Series], trends: &[Option<Trend>]) -> Vec<f64> {
    let mut carried = vec![0.0; series.len()];
    let mut kinds: Vec<TaskKind> = series.iter().map(|series| series.kind).collect();
    kinds.sort();
    kinds.dedup();
    for kind in kinds {
        let (at, lags): (Vec<usize>, Vec<LagOne>) = (0..series.len())
            .filter(|at| series[*at].kind == kind)
            .filter_map(|at| Some((at, trends[at].as_ref()?.lag_one)))
            .unzip();
        for (at, shared) in at.into_iter().zip(shared(&lags)) {
            carried[at] = shared;
        }
    }
    carried
}

/// A series with enough pages, and the slopes of the line through it.
struct Trend {
    points: Vec<(f64, f64)>,
    slopes: Slopes,
    noise: f64,
    lag_one: LagOne,
}

impl Trend {
    fn of(series: &Series) -> Option<Self> {
        let mut pages = series.points.clone();
        pages.retain(|point| point.value.is_finite() && point.se.is_finite());
        // Pages of one day have no order of their own; any fixed one will do.
        pages.sort_by(|a, b| a.day.cmp(&b.day).then(a.value.total_cmp(&b.value)));
        let days = pages.chunk_by(|a, b| a.day == b.day).count();
        if pages.len() < MIN_PAGES || days < MIN_DAYS {
            return None;
        }
        let points: Vec<(f64, f64)> = pages
            .iter()
            .map(|point| (f64::from(point.day.0), point.value))
            .collect();
        let errors: Vec<f64> = pages.iter().map(|point| point.se).collect();
        let slopes = Slopes::of(&points)?;
        let line = slopes.line(1.0 - OUTSIDE);
        let own = spread_about(&points, |day| line.at(day))?;
        let values: Vec<f64> = points.iter().map(|point| point.1).collect();
        Some(Self {
            slopes,
            noise: own.max(camera_noise(&errors)?),
            lag_one: LagOne::of(&values),
            points,
        })
    }

    /// Tests it, given what pages carry over.
    fn tested(self, autocorrelation: f64) -> Tested {
        let inflation = inflation(autocorrelation, self.points.len());
        let wider = two_sided_p(two_sided_z(OUTSIDE) * inflation.sqrt());
        let order = mann_kendall(&self.points).p;
        let line = self.slopes.line(1.0 - wider);
        let p = order.max(against_noise(&self.points, line.slope, self.noise));
        Tested {
            line,
            p: widened(p, inflation),
            autocorrelation,
            trend: self,
        }
    }
}

/// A trend with its probability.
struct Tested {
    trend: Trend,
    /// Its line; the interval allows for what pages carry over.
    line: TheilSen,
    autocorrelation: f64,
    p: f64,
}

impl Tested {
    fn judged(&self, measure: MeasureName, p_of_all: f64) -> Judged {
        let points = &self.trend.points;
        let (first, last) = (points[0].0, points[points.len() - 1].0);
        let (start, end) = (self.line.at(first), self.line.at(last));
        let direction = direction(better(measure), start, end);
        let p_corrected = looked_at_every_page(p_of_all, points.len());
        Judged {
            slope_per_week: Some(self.line.slope * DAYS_A_WEEK),
            slope_low: Some(self.line.low * DAYS_A_WEEK),
            slope_high: Some(self.line.high * DAYS_A_WEEK),
            start: Some(start),
            change: Some(self.line.slope * (last - first)),
            noise: Some(self.trend.noise),
            autocorrelation: Some(self.autocorrelation),
            p: Some(self.p),
            p_corrected: Some(p_corrected),
            verdict: if p_corrected < LEVEL && start != end {
                Verdict::MoreThanNoise { direction }
            } else {
                Verdict::NotYetMoreThanNoise
            },
        }
    }
}

/// Two-sided probability of a slope this steep from pages that differ by noise alone.
fn against_noise(points: &[(f64, f64)], slope: f64, noise: f64) -> f64 {
    let mean = points.iter().map(|point| point.0).sum::<f64>() / points.len() as f64;
    let spread: f64 = points.iter().map(|point| square(point.0 - mean)).sum();
    if slope == 0.0 {
        return 1.0;
    }
    if noise == 0.0 {
        return 0.0;
    }
    two_sided_p(slope * spread.sqrt() / noise)
}

fn direction(better: Better, start: f64, end: f64) -> Direction {
    let towards = |good: bool| match good {
        true => Direction::Better,
        false => Direction::Worse,
    };
    match better {
        Better::NoDirection => Direction::Neither,
        Better::Smaller => towards(end < start),
        Better::Larger => towards(end > start),
        Better::TowardsZero if start * end >= 0.0 => towards(end.abs() < start.abs()),
        // Beyond zero the other side begins: only a clear difference of distance counts.
        Better::TowardsZero if end.abs() < start.abs() / 2.0 => Direction::Better,
        Better::TowardsZero if end.abs() > start.abs() * 2.0 => Direction::Worse,
        Better::TowardsZero => Direction::Neither,
    }
}
