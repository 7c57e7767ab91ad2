//! The history of a pupil's measures.

use casefile::PupilView as Books;
use casefile::progress::{
    Direction, Judged, Point, Series, Verdict as Judgement, around_focus, judge,
};
use units::{Day, Focus, MeasureName, Outcome, PageId, PageRecord, Problem, Role, TaskKind};

use crate::App;
use crate::api::{
    AroundFocus, AspectVerdict, Chart, ChartPoint, ChartStart, News, OfPupil, ProgressView, Trend,
    Verdict,
};
use crate::figures::newest;
use crate::pupils::{count, is_about_letters};

const KINDS: [TaskKind; 3] = [TaskKind::Copied, TaskKind::Dictated, TaskKind::OwnWords];

impl App {
    /// One pupil's history, the same on every device.
    ///
    /// # Errors
    /// There is no such pupil on this device.
    pub fn progress(&self, input: OfPupil) -> Result<ProgressView, Problem> {
        let books = self.books(input.pupil)?;
        let tutor = self.settled()?.role == Role::Tutor;
        let charts = charts(&books, &|page| is_told(&books, page, tutor));
        Ok(ProgressView {
            pupil: input.pupil,
            aspects: aspects(&charts),
            charts,
            focuses: books.focuses.clone(),
            targets: books.targets.clone(),
        })
    }
}

/// Whether findings on the letters of a page may be told on this device.
pub(crate) fn is_told(books: &Books, page: &PageRecord, tutor: bool) -> bool {
    tutor || books.letters_allowed || page.looked_at.is_some()
}

/// A chart for each measure and task kind that has a page; those about letters rest only on pages of which
/// that may be told.
fn charts(books: &Books, told: &dyn Fn(&PageRecord) -> bool) -> Vec<Chart> {
    let mut asked = Vec::new();
    let mut pages = Vec::new();
    for &measure in MeasureName::ALL {
        for kind in KINDS {
            let (points, of): (Vec<Point>, Vec<PageId>) = books
                .pages
                .iter()
                .filter(|page| page.kind == kind)
                .filter(|page| !is_about_letters(measure.aspect()) || told(page))
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
    told.map(|((series, pages), judged)| chart(series, &pages, &judged, books))
        .collect()
}

/// What the charts of each aspect say together.
fn aspects(charts: &[Chart]) -> Vec<AspectVerdict> {
    let mut all: Vec<AspectVerdict> = Vec::new();
    for chart in charts {
        let Some(aspect) = chart.aspect else { continue };
        let pages = count(chart.points.len());
        let known = all
            .iter_mut()
            .find(|it| (it.aspect, it.kind) == (aspect, chart.kind));
        match known {
            None => all.push(AspectVerdict {
                aspect,
                kind: chart.kind,
                verdict: chart.verdict,
                pages,
            }),
            Some(known) => {
                known.verdict = together(known.verdict, chart.verdict);
                known.pages = known.pages.max(pages);
            }
        }
    }
    all
}

fn together(one: Verdict, other: Verdict) -> Verdict {
    use Verdict::{Better, Changed, NotYet, TooFewPages, Worse};
    match (one, other) {
        (Better, Worse) | (Worse, Better) | (Changed, _) | (_, Changed) => Changed,
        (Better, _) | (_, Better) => Better,
        (Worse, _) | (_, Worse) => Worse,
        (NotYet, _) | (_, NotYet) => NotYet,
        (TooFewPages, TooFewPages) => TooFewPages,
    }
}

/// What changed more than noise, and whether the pages up to a day said so already.
pub(crate) fn news(books: &Books, upto: Option<Day>, tutor: bool) -> Vec<News> {
    let told = |page: &PageRecord| is_told(books, page, tutor);
    let before = upto.map_or_else(Vec::new, |day| {
        let mut earlier = books.clone();
        earlier.pages.retain(|page| page.written_on <= day);
        charts(&earlier, &told)
    });
    let said = |chart: &Chart| {
        let mut before = before.iter();
        before.any(|it| (it.name, it.kind, it.verdict) == (chart.name, chart.kind, chart.verdict))
    };
    charts(books, &told)
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
            fresh: !said(chart),
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

fn chart(series: &Series, pages: &[PageId], judged: &Judged, books: &Books) -> Chart {
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
        start: start(series, pages, books),
        trend: trend(series, judged),
        noise: judged.noise,
        verdict: verdict(judged.verdict),
        around_focuses: books
            .focuses
            .iter()
            .filter(|focus| Some(focus.aspect) == series.measure.aspect())
            .filter_map(|focus| around(series, focus))
            .collect(),
    }
}

fn start(series: &Series, pages: &[PageId], books: &Books) -> Option<ChartStart> {
    let points = series.points.iter().zip(pages);
    let standing: Vec<&Point> = points
        .filter(|(_, page)| books.starting.contains(page))
        .map(|(point, _)| point)
        .collect();
    let n = standing.len() as f64;
    let value = standing.iter().map(|point| point.value).sum::<f64>() / n;
    let se = match standing[..] {
        [] => return None,
        [point] => point.se,
        _ => {
            let squares = standing.iter().map(|point| (point.value - value).powi(2));
            (squares.sum::<f64>() / (n - 1.0) / n).sqrt()
        }
    };
    Some(ChartStart {
        value,
        se,
        pages: count(standing.len()),
    })
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
