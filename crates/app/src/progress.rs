//! The history of a pupil's measures.

use casefile::PupilView as Books;
use casefile::progress::{
    Direction, Judged, Point, Series, Verdict as Judgement, around_focus, judge,
};
use units::{Day, Focus, MeasureName, Outcome, PageId, PageRecord, Problem, TaskKind};

use crate::App;
use crate::api::{AroundFocus, Chart, ChartPoint, News, OfPupil, ProgressView, Trend, Verdict};
use crate::figures::newest;
use crate::pupils::count;

const KINDS: [TaskKind; 3] = [TaskKind::Copied, TaskKind::Dictated, TaskKind::OwnWords];

impl App {
    /// One pupil's history, the same on every device.
    ///
    /// # Errors
    /// There is no such pupil on this device.
    pub fn progress(&self, input: OfPupil) -> Result<ProgressView, Problem> {
        let books = self.books(input.pupil)?;
        Ok(ProgressView {
            pupil: input.pupil,
            charts: charts(&books),
            focuses: books.focuses.clone(),
        })
    }
}

/// A chart for each measure and task kind that has a page.
pub(crate) fn charts(books: &Books) -> Vec<Chart> {
    let mut asked = Vec::new();
    let mut pages = Vec::new();
    for &measure in MeasureName::ALL {
        for kind in KINDS {
            let (points, of): (Vec<Point>, Vec<PageId>) = books
                .pages
                .iter()
                .filter(|page| page.kind == kind)
                .filter_map(|page| Some((point(page, measure)?, page.id)))
                .unzip();
            if !points.is_empty() {
                asked.push(Series {
                    measure,
                    kind,
                    points,
                });
                pages.push(of);
            }
        }
    }
    let judged = judge(&asked);
    let told = asked.iter().zip(pages).zip(judged);
    told.map(|((series, pages), judged)| chart(series, &pages, &judged, &books.focuses))
        .collect()
}

/// What changed more than noise.
pub(crate) fn news(charts: &[Chart]) -> Vec<News> {
    charts
        .iter()
        .filter(|chart| {
            matches!(
                chart.verdict,
                Verdict::Better | Verdict::Worse | Verdict::Changed
            )
        })
        .map(|chart| News {
            name: chart.name,
            aspect: chart.aspect,
            kind: chart.kind,
            verdict: chart.verdict,
        })
        .collect()
}

fn point(page: &PageRecord, measure: MeasureName) -> Option<Point> {
    let found = newest(page).iter().find(|found| found.name == measure)?;
    match found.outcome {
        Outcome::Measured { value, se, .. } => Some(Point {
            day: page.written_on,
            value,
            se,
        }),
        Outcome::NotMeasured { .. } => None,
    }
}

fn chart(series: &Series, pages: &[PageId], judged: &Judged, focuses: &[Focus]) -> Chart {
    let points = series
        .points
        .iter()
        .zip(pages)
        .map(|(point, &page)| ChartPoint {
            page,
            day: point.day,
            value: point.value,
            se: point.se,
        })
        .collect();
    Chart {
        name: series.measure,
        aspect: series.measure.aspect(),
        unit: series.measure.unit(),
        kind: series.kind,
        points,
        trend: trend(series, judged),
        noise: judged.noise,
        verdict: verdict(judged.verdict),
        around_focuses: focuses
            .iter()
            .filter(|focus| Some(focus.aspect) == series.measure.aspect())
            .filter_map(|focus| around(series, focus))
            .collect(),
    }
}

fn around(series: &Series, focus: &Focus) -> Option<AroundFocus> {
    let found = around_focus(series, focus.from, focus.to)?;
    Some(AroundFocus {
        focus: focus.id,
        from: focus.from,
        larger: found.larger,
        before: count(found.before),
        during: count(found.during),
    })
}

fn trend(series: &Series, judged: &Judged) -> Option<Trend> {
    let days = || series.points.iter().map(|point| point.day);
    let (from_day, to_day): (Day, Day) = (days().min()?, days().max()?);
    let from_value = judged.start?;
    Some(Trend {
        from_day,
        from_value,
        to_day,
        to_value: from_value + judged.change?,
        per_week: judged.slope_per_week?,
        low: judged.slope_low?,
        high: judged.slope_high?,
    })
}

fn verdict(judgement: Judgement) -> Verdict {
    match judgement {
        Judgement::TooFewPages => Verdict::TooFewPages,
        Judgement::NotYetMoreThanNoise => Verdict::NotYet,
        Judgement::MoreThanNoise { direction } => match direction {
            Direction::Better => Verdict::Better,
            Direction::Worse => Verdict::Worse,
            Direction::Neither => Verdict::Changed,
        },
    }
}
