//! An invented practice to look round in: one pupil who does not exist, with some months of pages. The
//! photographs are drawn (`demo`), and measured here by the engine as it is.

use casefile::Edit;
use serde::{Deserialize, Serialize};
use units::{
    Aspect, Day, Focus, FocusId, Mark, MarkId, MarkShape, Moment, PageId, Problem, Profile, Role,
    Task, TaskId, TaskKind,
};

use crate::App;
use crate::api::{AddPupil, KeepPage, Nothing, Overview, SetNote, Settle, StagePhoto};

/// The example, but for its photographs.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub struct Example {
    /// What is kept of the pupil.
    pub profile: Profile,
    /// Focus periods, oldest first.
    pub focuses: Vec<ExampleFocus>,
    /// Pages, oldest first, a week apart.
    pub pages: Vec<ExamplePage>,
    /// How many of the first pages stand as the starting point.
    pub starting: usize,
    /// The tutor's private note.
    pub note: String,
}

/// A focus period; it ends where the next begins.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub struct ExampleFocus {
    /// The page from which on, counted from 0.
    pub from_page: usize,
    /// The aspect.
    pub aspect: Aspect,
    /// What to try.
    pub try_this: String,
}

/// A page.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub struct ExamplePage {
    /// Its photograph.
    pub file: String,
    /// The text to copy.
    pub text: String,
    /// The tutor's marks.
    pub marks: Vec<ExampleMark>,
}

/// A mark.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub struct ExampleMark {
    /// Its shape.
    pub shape: MarkShape,
    /// Its words.
    pub words: String,
    /// The aspect it speaks of.
    pub aspect: Option<Aspect>,
    /// Whether it praises.
    pub praise: bool,
}

const EXAMPLE: &str = include_str!("../example/example.json");

macro_rules! photos {
    ($($name:literal)*) => {
        &[$(($name, include_bytes!(concat!("../example/", $name)))),*]
    };
}

/// The photographs by name.
const PHOTOS: &[(&str, &[u8])] = photos! {
    "01.jpg" "02.jpg" "03.jpg" "04.jpg" "05.jpg" "06.jpg" "07.jpg" "08.jpg" "09.jpg" "10.jpg"
    "11.jpg" "12.jpg" "13.jpg"
};

/// A week in milliseconds.
const WEEK: i64 = 7 * 86_400_000;
/// Minutes that each task asks for.
const MINUTES: u16 = 10;

impl App {
    /// Puts the example on a tutor's device, or makes this one a tutor's where nothing was said yet. The
    /// pupil can be erased like any other.
    ///
    /// # Errors
    /// This is a parent's device, or the disk is full; then what is there so far can be erased.
    pub fn load_example(&self, _: Nothing) -> Result<Overview, Problem> {
        if self.settled().is_err() {
            self.settle(Settle {
                role: Role::Tutor,
                name: "Example desk".to_owned(),
            })?;
        }
        self.only(Role::Tutor)?;
        let example: Example = serde_json::from_str(EXAMPLE).expect("the example fits its program");
        let profile = Profile {
            name: format!("{} (invented)", example.profile.name),
            ..example.profile.clone()
        };
        let pupil = self.add_pupil(AddPupil { profile })?.pupil;
        let weeks = example.pages.len() as i64;
        let moment = |at: usize| Moment(self.now().0 - (weeks - 1 - at as i64) * WEEK);
        let day = |at: usize| -> Day { moment(at).day() };
        let mut edits = Vec::new();
        for (at, focus) in example.focuses.iter().enumerate() {
            let next = example.focuses.get(at + 1);
            edits.push(Edit::StartFocus(Focus {
                id: FocusId(self.random()?),
                aspect: focus.aspect,
                from: day(focus.from_page),
                to: next.map(|next| Day(day(next.from_page).0 - 1)),
                try_this: focus.try_this.clone(),
            }));
        }
        self.commit(pupil, edits, Vec::new())?;
        for (at, page) in example.pages.iter().enumerate() {
            let newest = at + 1 == example.pages.len();
            let focus = example.focuses.iter().rev();
            let focus = focus.clone().find(|focus| focus.from_page <= at);
            let task = TaskId(self.random()?);
            let set = Edit::SetTask(Task {
                id: task,
                set_on: Day(day(at).0 - 2),
                kind: TaskKind::Copied,
                text: Some(vec![page.text.clone()]),
                paper: example.profile.paper,
                ruling: example.profile.ruling,
                minutes: MINUTES,
                focus: focus.map(|focus| focus.aspect),
            });
            self.commit(pupil, vec![set], Vec::new())?;
            let about = StagePhoto {
                pupil,
                task: Some(task),
                kind: None,
                written_on: Some(day(at)),
            };
            let photo = PHOTOS.iter().find(|(name, _)| *name == page.file);
            let (_, photo) = photo.expect("the example names its own photographs");
            let kept = self.keep_example(photo, about, moment(at))?;
            let mut edits: Vec<Edit> = Vec::new();
            if at < example.starting {
                edits.push(Edit::SetStarting {
                    page: kept,
                    starting: true,
                });
            }
            if !newest {
                edits.push(Edit::LookAt {
                    page: kept,
                    at: moment(at),
                });
            }
            for mark in &page.marks {
                edits.push(Edit::AddMark(Mark {
                    id: MarkId(self.random()?),
                    page: kept,
                    shape: mark.shape.clone(),
                    words: mark.words.clone(),
                    aspect: mark.aspect,
                    praise: mark.praise,
                    made_at: moment(at),
                    by: self.id(),
                }));
            }
            self.commit(pupil, edits, Vec::new())?;
        }
        self.set_note(SetNote {
            pupil,
            note: example.note,
        })?;
        self.overview(Nothing {})
    }

    /// Keeps a photograph of the example as if it had been added at that moment.
    fn keep_example(&self, photo: &[u8], about: StagePhoto, at: Moment) -> Result<PageId, Problem> {
        let staged = self.stage_photo(photo, about)?;
        let keep = KeepPage {
            handle: staged.handle,
            despite: true,
        };
        Ok(self.keep_page_at(keep, Some(at))?.page)
    }
}
