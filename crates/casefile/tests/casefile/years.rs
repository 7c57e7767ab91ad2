//! Simulated years of one page a week: every measure of every page, related to one another as on a
//! real page.

use casefile::progress::{Point, Series, Verdict, judge};
use units::{Aspect, Day, MeasureName, TaskKind};

/// Standard error of measuring a page, in spreads from page to page.
const SE: f64 = 0.3;
/// Share of a measure's variance that all measures of a page have in common (the day), and that
/// those of one aspect have in common (assumed; moderate, as writing measures go).
const DAY_SHARE: f64 = 0.2;
const ASPECT_SHARE: f64 = 0.2;

/// SplitMix64 (Steele, Lea & Flood 2014), and from it normal deviates.
pub struct Dice(pub u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (word ^ (word >> 31)) as f64 / u64::MAX as f64
    }

    /// Box & Muller 1958.
    fn normal(&mut self) -> f64 {
        let distance = (-2.0 * libm::log(self.uniform().max(f64::MIN_POSITIVE))).sqrt();
        distance * libm::cos(2.0 * core::f64::consts::PI * self.uniform())
    }

    /// A course of unit variance in which each value keeps a share of the one before.
    fn course(&mut self, pages: usize, carried: f64) -> Vec<f64> {
        let fresh = (1.0 - carried * carried).sqrt();
        let mut value = self.normal();
        let mut course = Vec::with_capacity(pages);
        for _ in 0..pages {
            course.push(value);
            value = carried * value + fresh * self.normal();
        }
        course
    }
}

/// How the pages of a year come about.
#[derive(Clone, Copy)]
pub struct Year {
    /// Pages, one a week.
    pub pages: usize,
    /// Autocorrelation from page to page (AR(1)).
    pub carried: f64,
    /// Whether measures have the distributions they have in life, or are normal.
    pub lifelike: bool,
    /// Whether half of the pages are copied, a third dictated and a sixth own words, or all copied.
    pub kinds: bool,
}

impl Year {
    /// Every measure of every page, in units of its own spread; nothing changes.
    pub fn of_noise(self, dice: &mut Dice) -> Vec<Series> {
        let days = dice.course(self.pages, self.carried);
        let aspects = Aspect::ALL.map(|_| dice.course(self.pages, self.carried));
        let own_share: f64 = 1.0 - DAY_SHARE - ASPECT_SHARE;
        let mut all = Vec::new();
        for &measure in MeasureName::ALL {
            let own = dice.course(self.pages, self.carried);
            // Pace belongs to no aspect; it hangs on the day alone.
            let kin = |aspect: &Aspect| Some(*aspect) == measure.aspect();
            let aspect = Aspect::ALL.iter().position(kin);
            let aspect = aspect.map_or(&days, |at| &aspects[at]);
            let values = (0..self.pages).map(|page| {
                let normal = DAY_SHARE.sqrt() * days[page]
                    + ASPECT_SHARE.sqrt() * aspect[page]
                    + own_share.sqrt() * own[page];
                match self.lifelike {
                    true => lifelike(measure, normal),
                    false => normal,
                }
            });
            all.extend(self.series(measure, &values.collect::<Vec<_>>()));
        }
        all
    }

    fn series(self, measure: MeasureName, values: &[f64]) -> Vec<Series> {
        let kind_of = |page: usize| match page % 6 {
            1 | 3 if self.kinds => TaskKind::Dictated,
            5 if self.kinds => TaskKind::OwnWords,
            _ => TaskKind::Copied,
        };
        let mut kinds = vec![TaskKind::Copied, TaskKind::Dictated, TaskKind::OwnWords];
        kinds.truncate(if self.kinds { 3 } else { 1 });
        let points = |kind: TaskKind| -> Vec<Point> {
            let pages = (0..self.pages).filter(|page| kind_of(*page) == kind);
            let point = |page: usize| Point {
                day: Day(20_000 + 7 * page as i32),
                value: values[page],
                se: SE,
            };
            pages.map(point).collect()
        };
        kinds
            .into_iter()
            .map(|kind| Series {
                measure,
                kind,
                points: points(kind),
            })
            .collect()
    }
}

/// A normal deviate turned into one with the shape that the measure has on pages: shares end at
/// one, counts are whole and often zero, spreads are skewed, gaps have outliers.
fn lifelike(measure: MeasureName, normal: f64) -> f64 {
    use MeasureName as M;
    match measure {
        M::OnLine => (0.9 + 0.1 * normal).min(1.0) / 0.1,
        M::Corrections => ((normal + 0.3) * 1.5).round().max(0.0),
        M::Wander | M::XHeightCv | M::LetterGapCv | M::WordGapCv | M::SlantSd => {
            libm::exp(0.5 * normal) / 0.5
        }
        M::LetterGap | M::WordGap => normal * (1.0 + 0.3 * normal.abs()),
        _ => normal,
    }
}

/// The same year as it was known after some of its pages.
pub fn after(year: &[Series], pages: usize) -> Vec<Series> {
    let last = Day(20_000 + 7 * (pages as i32 - 1));
    let mut seen = year.to_vec();
    for series in &mut seen {
        series.points.retain(|point| point.day <= last);
    }
    seen
}

/// Whether anything in it is said to change.
pub fn alarms(year: &[Series]) -> bool {
    judge(year)
        .iter()
        .any(|judged| matches!(judged.verdict, Verdict::MoreThanNoise { .. }))
}
