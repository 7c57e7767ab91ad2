//! What is seen in a photograph: the sheet, and whether it can be read.

use std::sync::Arc;

use metrics::{Page, PageError, Photo};
use units::{Expectation, Fitness, Frame, Problem, PupilId, Task, TaskId};

use super::{LONGEST_SHOWN, Waiting, not_staged};
use crate::App;
use crate::api::{Corner, Staged, advise};
use crate::device::locked;
use crate::problem;

/// A photograph that was looked at. It is made again from the photograph where the program has ended since.
pub(crate) struct Looked {
    pub expect: Expectation,
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
            expect: self.expect.clone(),
        })
    }

    pub fn answer(&self, handle: String) -> Staged {
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
            handle,
            found: flat.is_some(),
            fit: flat.is_some_and(|flat| flat.fitness.fit()),
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
        let waiting = self.waiting_photo(handle)?.ok_or_else(not_staged)?;
        if let Some(looked) = locked(&self.inner.looked).get(handle) {
            return Ok((waiting, Arc::clone(looked)));
        }
        let photo = metrics::decode(&self.file_of(&waiting)?).map_err(problem::decode)?;
        // A task that was forgotten meanwhile is none any more.
        let task = waiting.task.map(|task| self.task(waiting.pupil, task));
        let task = task.transpose()?.flatten();
        let expect = self.expectation(waiting.pupil, task.as_ref())?;
        let looked = Arc::new(Looked::at(&photo, expect, waiting.corners));
        self.remember_looked(handle, &looked);
        Ok((waiting, looked))
    }

    pub(super) fn remember_looked(&self, handle: &str, looked: &Arc<Looked>) {
        locked(&self.inner.looked).insert(handle.to_owned(), Arc::clone(looked));
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
