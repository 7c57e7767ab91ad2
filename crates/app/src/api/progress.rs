//! The history of a pupil's measures.

use units::{Aspect, Day, Focus, FocusId, MeasureName, PageId, PupilId, Target, TaskKind, Unit};

use super::transfer;

transfer! {
    /// One pupil's history, the same on every device.
    pub struct ProgressView {
        /// Whose.
        pub pupil: PupilId,
        /// A chart for each measure and task kind that has a page, in the order of the aspects, pace last.
        pub charts: Vec<Chart>,
        /// Focus periods, oldest first.
        pub focuses: Vec<Focus>,
        /// What may be said of each aspect, for each task kind that has a page.
        pub aspects: Vec<AspectVerdict>,
        /// Targets.
        pub targets: Vec<Target>,
    }

    /// What the measures of one aspect say together, one task kind.
    #[derive(Copy, Eq)]
    pub struct AspectVerdict {
        /// Which aspect.
        pub aspect: Aspect,
        /// Task kind.
        pub kind: TaskKind,
        /// Better or worse where some measure says so and none the opposite; changed where they differ.
        pub verdict: Verdict,
        /// Pages that the fullest of its measures rests on.
        pub pages: u32,
    }

    /// The pages that stand as the starting point, in one measure and task kind.
    #[derive(Copy)]
    pub struct ChartStart {
        /// Their mean.
        pub value: f64,
        /// Its standard error, from how the pages differ; for one page, from measuring it.
        pub se: f64,
        /// How many they are.
        pub pages: u32,
    }

    /// One measure over time, one task kind.
    pub struct Chart {
        /// Which measure.
        pub name: MeasureName,
        /// The aspect it speaks for; `None` for pace.
        pub aspect: Option<Aspect>,
        /// Unit.
        pub unit: Unit,
        /// Task kind; kinds are never mixed.
        pub kind: TaskKind,
        /// Pages, oldest first.
        pub points: Vec<ChartPoint>,
        /// The starting point; `None` where no page stands for it.
        pub start: Option<ChartStart>,
        /// Theil-Sen trend; `None` with too few pages.
        pub trend: Option<Trend>,
        /// Page-to-page noise about the trend, in the unit; `None` with too few pages.
        pub noise: Option<f64>,
        /// What may be said.
        pub verdict: Verdict,
        /// Focus periods of its aspect with pages enough, oldest first: a description, no verdict.
        pub around_focuses: Vec<AroundFocus>,
    }

    /// Pages of a focus period against the pages before it.
    pub struct AroundFocus {
        /// Which period.
        pub focus: FocusId,
        /// Its first day.
        pub from: Day,
        /// Share of pairs, a page before and a page in it, whose later value is larger; ties count
        /// half.
        pub larger: f64,
        /// Pages before.
        pub before: u32,
        /// Pages in it.
        pub during: u32,
    }

    /// One page on a chart.
    pub struct ChartPoint {
        /// Which page.
        pub page: PageId,
        /// Day it was written.
        pub day: Day,
        /// Value.
        pub value: f64,
        /// Standard error of measuring that page.
        pub se: f64,
    }

    /// A straight trend.
    pub struct Trend {
        /// First day.
        pub from_day: Day,
        /// Value of the trend line there.
        pub from_value: f64,
        /// Last day.
        pub to_day: Day,
        /// Value of the trend line there.
        pub to_value: f64,
        /// Change a week.
        pub per_week: f64,
        /// Lower end of its 95 % interval.
        pub low: f64,
        /// Upper end of its 95 % interval.
        pub high: f64,
    }

    /// Whether a change is told apart from noise.
    #[derive(Copy, Eq)]
    pub enum Verdict {
        /// Too few pages to say.
        TooFewPages,
        /// Not yet more than noise.
        NotYet,
        /// More than noise, in the wanted direction.
        Better,
        /// More than noise, against the wanted direction.
        Worse,
        /// More than noise, for a measure with no wanted direction.
        Changed,
    }

    /// A change that is more than noise, for a list.
    pub struct News {
        /// Which measure.
        pub name: MeasureName,
        /// The aspect it speaks for; `None` for pace.
        pub aspect: Option<Aspect>,
        /// Task kind.
        pub kind: TaskKind,
        /// Better, worse or changed.
        pub verdict: Verdict,
        /// Whether the pages of before the last lesson did not say so yet; without lessons, those before
        /// the newest.
        pub fresh: bool,
    }
}
