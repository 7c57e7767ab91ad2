//! Adding, showing and reading a page.

use units::{
    Day, FitCheck, MeasureName, Moment, PageId, PageRecord, PupilId, Reading, Ruling, TaskId,
    TaskKind, Unit,
};

use super::transfer;

transfer! {
    /// Goes with the bytes of a photograph: what it answers.
    pub struct StagePhoto {
        /// Whose page.
        pub pupil: PupilId,
        /// The task it answers; text, kind and paper come from it.
        pub task: Option<TaskId>,
        /// Kind of a page that answers no task; own words where not said.
        pub kind: Option<TaskKind>,
        /// The day it was written; today where not said.
        pub written_on: Option<Day>,
    }

    /// A photograph on its way in.
    pub struct TakenPhoto {
        /// What it answers.
        #[serde(flatten)]
        pub about: StagePhoto,
        /// The staged photograph of the same pupil that it is to take the place of: while that one waits, this
        /// one answers what that one does, whatever is said here.
        pub instead_of: Option<String>,
    }

    /// The photographs of a pupil that wait on this device.
    pub struct WaitingPhotos {
        /// The longest first.
        pub photos: Vec<WaitingPhoto>,
    }

    /// A staged photograph among those that wait to be kept or dropped.
    pub struct WaitingPhoto {
        /// Names it until it is kept or dropped.
        pub handle: String,
        /// The task it answers.
        pub task: Option<TaskId>,
        /// Kind of the page.
        pub kind: TaskKind,
        /// The day it was written.
        pub written_on: Day,
        /// Since when it waits.
        pub since: Moment,
    }

    /// A photograph looked at, not yet kept.
    pub struct Staged {
        /// Names it until it is kept or dropped, also after a restart.
        pub handle: String,
        /// The task it answers.
        pub task: Option<TaskId>,
        /// Kind of the page.
        pub kind: TaskKind,
        /// The day it was written.
        pub written_on: Day,
        /// Whether the photograph that this one was to take the place of waits on beside it, because this one
        /// shows the page less well.
        pub earlier_stays: bool,
        /// Whether it can be read.
        pub fit: bool,
        /// Every check made.
        pub checks: Vec<FitAdvice>,
        /// Width of the page picture, to leave room for it; 0 where no sheet was found.
        pub width_px: u32,
        /// Height of the page picture.
        pub height_px: u32,
        /// Whether a sheet was found.
        pub found: bool,
        /// Its corners in the photograph, clockwise from the sheet's top left.
        pub corners: Option<[Corner; 4]>,
        /// Width of the photograph as it is shown.
        pub photo_width_px: u32,
        /// Height of the photograph as it is shown.
        pub photo_height_px: u32,
    }

    /// One check of fitness and what to do about it.
    pub struct FitAdvice {
        /// The check.
        #[serde(flatten)]
        pub check: FitCheck,
        /// One plain sentence for the parent; empty where the check passed.
        pub advice: String,
    }

    /// A corner of the sheet in the photograph.
    #[derive(Copy)]
    pub struct Corner {
        /// From the left, as a share of the photograph's width.
        pub x: f64,
        /// From the top, as a share of its height.
        pub y: f64,
    }

    /// Says where the sheet's corners are in a staged photograph.
    pub struct SetCorners {
        /// From [`Staged`].
        pub handle: String,
        /// In order around the sheet; `None` to look for them anew.
        pub corners: Option<[Corner; 4]>,
    }

    /// Keeps a staged photograph: it is measured and goes into the book.
    pub struct KeepPage {
        /// From [`Staged`].
        pub handle: String,
        /// Keep it though a check failed.
        pub despite: bool,
    }

    /// The page just kept.
    pub struct KeptPage {
        /// Its id.
        pub page: PageId,
    }

    /// Names a staged photograph.
    pub struct OfStaged {
        /// From [`Staged`].
        pub handle: String,
    }

    /// Names one page.
    #[derive(Copy, Eq)]
    pub struct OfPage {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub page: PageId,
    }

    /// One page with all that is known of it.
    pub struct PageView {
        /// Whose.
        pub pupil: PupilId,
        /// The page as it stands in the books.
        pub record: PageRecord,
        /// Whether the picture has arrived.
        pub picture_here: bool,
        /// The newest reading with all places; `None` while it is still to arrive.
        pub reading: Option<Reading>,
        /// Its figures with the change since the page before of the same kind.
        pub figures: Vec<Figure>,
        /// What other children wrote in a study, to stand beside the pace: context, never a verdict.
        pub pace_study: PaceStudy,
        /// Marks on it, oldest first.
        pub marks: Vec<units::Mark>,
        /// What a person put right on it, oldest first.
        pub amendments: Vec<units::AmendmentRecord>,
        /// Whether it stands as part of the starting point.
        pub starting: bool,
        /// Whether this device may show findings on letters and joins; where it may not, they are left
        /// out of the figures and of the reading.
        pub letters_shown: bool,
        /// The page before, if any.
        pub earlier: Option<PageId>,
        /// The page after, if any.
        pub later: Option<PageId>,
    }

    /// One measure as shown: a figure, or the reason why there is none.
    pub struct Figure {
        /// Which measure.
        pub name: MeasureName,
        /// The aspect it speaks for; `None` for pace.
        pub aspect: Option<units::Aspect>,
        /// Unit.
        pub unit: Unit,
        /// Value; `None` where not measured.
        pub value: Option<f64>,
        /// Standard error of measuring this page.
        pub se: Option<f64>,
        /// How much the letters or words differ.
        pub spread: Option<f64>,
        /// How many it rests on.
        pub n: Option<u32>,
        /// Why it was not measured.
        pub because: Option<units::WhyNot>,
        /// Value on the page before of the same task kind, where both are measured.
        pub before: Option<f64>,
        /// Whether it rests on something that a person put right.
        pub by_hand: bool,
    }

    /// Says what an adult read on the page; it is measured again.
    pub struct SetText {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// The text line by line, crossed-out words left out.
        pub text: Vec<String>,
    }

    /// Says how long the writing took; the page is measured again.
    pub struct SetMinutes {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// Whole minutes, 1 to 240; `None` where nobody timed it.
        pub minutes: Option<u16>,
    }

    /// Says which ruling the page was written on; it is measured again.
    #[derive(Copy)]
    pub struct SetRuling {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// The ruling.
        pub ruling: Ruling,
    }

    /// Says whether a page stands as part of the starting point.
    #[derive(Copy, Eq)]
    pub struct SetStarting {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// Whether it does.
        pub starting: bool,
    }

    /// How fast children of one study copied.
    pub struct PaceStudy {
        /// Where it was published, and how its figures came here.
        pub source: String,
        /// Grade by grade, lowest first.
        pub grades: Vec<GradePace>,
    }

    /// Mean letters a minute of one grade.
    pub struct GradePace {
        /// Grade of the schools in the study.
        pub grade: u8,
        /// Girls.
        pub girls: u16,
        /// Boys.
        pub boys: u16,
    }
}

impl From<StagePhoto> for TakenPhoto {
    fn from(about: StagePhoto) -> Self {
        Self {
            about,
            instead_of: None,
        }
    }
}
