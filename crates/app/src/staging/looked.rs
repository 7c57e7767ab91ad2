//! What is seen in a photograph: the sheet, and whether it can be read.

use std::sync::Arc;

use metrics::{Page, PageError, Photo};
use units::{Expectation, Fitness, Frame, Problem, PupilId, Task, TaskId};

use super::{LONGEST_SHOWN, Waiting, photo_gone};
use crate::App;
use crate::api::{Corner, Staged, advise};
use crate::device::locked;
use crate::problem;

/// What is held in memory of a photograph that waits; all of it can be made again from the photograph.
#[derive(Default)]
pub(crate) struct Seen {
    pub looked: Option<Arc<Looked>>,
    /// The photograph made small for a list (JPEG).
    pub small: Option<Arc<[u8]>>,
}

/// A photograph that was looked at.
pub(crate) struct Looked {
    pub expect: Expectation,
    /// Where a person said that the corners are, when it was looked at.
    pub by_hand: Option<[Corner; 4]>,
    /// Its size, upright.
    photo_px: (u32, u32),
    pub flat: Option<Flat>,
}

/// The sheet that was found in a photograph.
pub(crate) struct Flat {
    pub fitness: Fitness,
    pub frame: Frame,
    pub picture: Vec<u8>,
    size_px: (u32, u32),
    corners: [Corner; 4],
}

impl Flat {
    fn of(page: &Page) -> Self {
        let (width, height) = page.photo_size.unwrap_or((1, 1));
        let seen = page
            .frame
            .to_photo
            .as_ref()
            .map_or([(0.0, 0.0); 4], |mesh| mesh.corners());
        Self {
            fitness: metrics::fitness(page),
            picture: metrics::encode_page(page),
            size_px: page.rgb.dimensions(),
            corners: seen.map(|(x, y)| Corner {
                x: x / f64::from(width),
                y: y / f64::from(height),
            }),
            frame: page.frame.clone(),
        }
    }
}

impl Looked {
    /// Looks for the sheet, or takes it from between corners that a person told. Where none is found, a person
    /// can still show its corners.
    pub fn at(photo: &Photo, expect: Expectation, corners: Option<[Corner; 4]>) -> Self {
        Self {
            photo_px: photo.rgb.dimensions(),
            flat: flat(photo, &expect, corners).ok(),
            by_hand: corners,
            expect,
        }
    }

    /// The same with the corners elsewhere.
    ///
    /// # Errors
    /// They make no sheet, or none is found.
    pub fn anew(&self, photo: &Photo, corners: Option<[Corner; 4]>) -> Result<Self, PageError> {
        Ok(Self {
            photo_px: self.photo_px,
            flat: Some(flat(photo, &self.expect, corners)?),
            by_hand: corners,
            expect: self.expect.clone(),
        })
    }

    /// Whether the page that was found can be read.
    pub fn is_fit(&self) -> bool {
        self.flat.as_ref().is_some_and(|flat| flat.fitness.fit())
    }

    pub fn answer(&self, waiting: &Waiting) -> Staged {
        let (photo_width_px, photo_height_px) = self.photo_px;
        let longest = photo_width_px.max(photo_height_px);
        let shown = |side: u32| match longest > LONGEST_SHOWN {
            true => {
                let share = f64::from(LONGEST_SHOWN) / f64::from(longest);
                ((f64::from(side) * share).round() as u32).max(1)
            }
            false => side,
        };
        let flat = self.flat.as_ref();
        let (width_px, height_px) = flat.map_or((0, 0), |flat| flat.size_px);
        Staged {
            handle: waiting.handle().to_owned(),
            task: waiting.task,
            kind: waiting.kind,
            written_on: waiting.written_on,
            earlier_stays: false,
            found: flat.is_some(),
            fit: self.is_fit(),
            checks: flat.map_or_else(Vec::new, |flat| advise(&flat.fitness)),
            width_px,
            height_px,
            corners: flat.map(|flat| flat.corners),
            photo_width_px: shown(photo_width_px),
            photo_height_px: shown(photo_height_px),
        }
    }
}

fn flat(
    photo: &Photo,
    expect: &Expectation,
    corners: Option<[Corner; 4]>,
) -> Result<Flat, PageError> {
    let (width, height) = photo.rgb.dimensions();
    let page = match corners {
        None => metrics::find_page(photo, expect),
        Some(corners) => {
            let px = corners.map(|at| (at.x * f64::from(width), at.y * f64::from(height)));
            metrics::find_page_at(photo, expect, px)
        }
    };
    Ok(Flat::of(&page?))
}

impl App {
    /// A photograph that waits, and what is seen in it.
    pub(super) fn looked(&self, handle: &str) -> Result<(Waiting, Arc<Looked>), Problem> {
        let waiting = self.waiting_photo(handle)?.ok_or_else(photo_gone)?;
        let seen = locked(&self.inner.looked)
            .get(handle)
            .and_then(|seen| seen.looked.clone());
        if let Some(looked) = seen.filter(|looked| looked.by_hand == waiting.corners) {
            return Ok((waiting, looked));
        }
        let looked = self.look_at(&waiting)?;
        self.remember_looked(handle, &looked)?;
        Ok((waiting, looked))
    }

    fn look_at(&self, waiting: &Waiting) -> Result<Arc<Looked>, Problem> {
        let photo = metrics::decode(&self.file_of(waiting)?).map_err(problem::decode)?;
        let task = self.task_of(waiting)?;
        let expect = self.expectation(waiting.pupil, task.as_ref())?;
        Ok(Arc::new(Looked::at(&photo, expect, waiting.corners)))
    }

    /// The task that a photograph answers; one that was forgotten meanwhile is none any more.
    pub(super) fn task_of(&self, waiting: &Waiting) -> Result<Option<Task>, Problem> {
        let task = waiting.task.map(|task| self.task(waiting.pupil, task));
        Ok(task.transpose()?.flatten())
    }

    /// Holds in memory what was seen, unless the photograph was let go of meanwhile or its corners were put
    /// elsewhere.
    pub(super) fn remember_looked(
        &self,
        handle: &str,
        looked: &Arc<Looked>,
    ) -> Result<(), Problem> {
        self.remember_seen(handle, |waiting, seen| {
            if waiting.corners == looked.by_hand {
                seen.looked = Some(Arc::clone(looked));
            }
        })
    }

    /// Holds something in memory of a photograph, if it waits still.
    pub(super) fn remember_seen(
        &self,
        handle: &str,
        remember: impl FnOnce(&Waiting, &mut Seen),
    ) -> Result<(), Problem> {
        self.with_cases_held(|| {
            if let Some(waiting) = self.waiting_photo(handle)? {
                let mut all = locked(&self.inner.looked);
                remember(&waiting, all.entry(handle.to_owned()).or_default());
            }
            Ok(())
        })
    }

    /// Notes where a person says that the corners are, and what was seen with them there.
    pub(super) fn remember_corners(
        &self,
        handle: &str,
        looked: &Arc<Looked>,
    ) -> Result<(), Problem> {
        self.with_cases_held(|| {
            let mut waiting = self.waiting_photo(handle)?.ok_or_else(photo_gone)?;
            waiting.corners = looked.by_hand;
            let written = self.inner.store.transaction(vec![waiting.setting()]);
            written.map_err(problem::store)?;
            let mut all = locked(&self.inner.looked);
            all.entry(handle.to_owned()).or_default().looked = Some(Arc::clone(looked));
            Ok(())
        })
    }

    /// What is known of a page before it is looked at: from the task, or from the profile.
    pub(super) fn expectation(
        &self,
        pupil: PupilId,
        task: Option<&Task>,
    ) -> Result<Expectation, Problem> {
        let profile = self.profile(pupil)?;
        Ok(Expectation {
            paper: task.map_or(profile.paper, |task| task.paper),
            ruling: task.map_or(profile.ruling, |task| task.ruling),
            model: profile.model,
            text: task.and_then(|task| task.text.clone()),
            minutes: None,
            amendments: Vec::new(),
        })
    }

    pub(super) fn task(&self, pupil: PupilId, id: TaskId) -> Result<Option<Task>, Problem> {
        let books = self.books(pupil)?;
        let mut tasks = books.tasks.iter();
        Ok(tasks.find(|known| known.id == id).cloned())
    }
}
