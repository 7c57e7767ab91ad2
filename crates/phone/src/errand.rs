//! What one visit may do: all of it, for the one pupil that it is for.

use std::sync::atomic::{AtomicU32, Ordering};

use app::App;
use app::api::{
    FitAdvice, KeepPage, KeptPage, OfPage, OfPupil, OfStaged, PageView, ProgressView, PupilView,
    StagePhoto, Staged,
};
use app::units::{Aspect, PageId, Problem, PupilId, TaskId};
use hyper::body::Bytes;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use tokio::sync::Mutex;

use crate::ask::{Ask, Asked, FocusOutcome, Kept, Looked, MeasureVerdict, Nothing, Outcome, Week};
use crate::problem;

/// Days before the newest task whose tasks are shown with it.
const THIS_WEEK: i32 = 6;
/// Pages that one visit may keep.
const MOST_PAGES: usize = 20;

/// Nothing but this can be asked of `app`.
pub(crate) struct Errand {
    app: App,
    pupil: PupilId,
    held: Mutex<Held>,
    pages: AtomicU32,
}

/// One thing after the other: held while a question is answered.
#[derive(Default)]
struct Held {
    /// The photograph that waits to be kept or dropped.
    waiting: Option<String>,
    /// What was kept, by what it was called before.
    kept: Vec<(String, PageId)>,
}

/// What is answered: plain data, and a picture that goes with it.
pub(crate) type Done = Result<(Value, Bytes), Problem>;

impl Errand {
    pub fn new(app: App, pupil: PupilId) -> Self {
        Self {
            app,
            pupil,
            held: Mutex::default(),
            pages: AtomicU32::new(0),
        }
    }

    /// Pages kept.
    pub fn pages(&self) -> u32 {
        self.pages.load(Ordering::Relaxed)
    }

    /// Does what is asked.
    pub async fn run(&self, ask: Ask, photo: Bytes) -> Done {
        let mut held = self.held.lock().await;
        match ask {
            Ask::Greet { .. } => Err(problem::not_allowed()),
            Ask::Look {} => plain(Nothing {}),
            Ask::Week {} => plain(self.week().await?),
            Ask::Photo { task } => self.look(&mut held, task, photo).await,
            Ask::Keep { handle, despite } => plain(self.keep(&mut held, handle, despite).await?),
            Ask::Drop { handle } => {
                if held.waiting.as_ref() == Some(&handle) {
                    self.clear(&mut held).await?;
                }
                plain(Nothing {})
            }
            Ask::Result { page } => plain(self.outcome(&held, page).await?),
        }
    }

    /// Drops what was neither kept nor dropped when the visit ends.
    pub async fn end(&self) {
        let mut held = self.held.lock().await;
        // What cannot be dropped waits on this computer, where its people find it.
        let _ = self.clear(&mut held).await;
    }

    /// What there is to do.
    pub async fn week(&self) -> Result<Week, Problem> {
        let pupil = self.pupil;
        let view: PupilView = self.call("pupil", OfPupil { pupil }).await?;
        let newest = view.tasks.first().map(|task| task.set_on.0);
        let this_week =
            |day: i32| newest.is_some_and(|newest| day >= newest.saturating_sub(THIS_WEEK));
        let answered = |task: TaskId| view.pages.iter().any(|page| page.task == Some(task));
        let focus = view.focuses.iter().find(|focus| focus.to.is_none());
        Ok(Week {
            name: view.profile.map(|profile| profile.name),
            try_this: focus
                .map(|focus| focus.try_this.clone())
                .unwrap_or_default(),
            tasks: view
                .tasks
                .into_iter()
                .filter(|task| this_week(task.set_on.0))
                .map(|task| Asked {
                    answered: answered(task.id),
                    task,
                })
                .collect(),
        })
    }

    async fn look(&self, held: &mut Held, task: Option<TaskId>, photo: Bytes) -> Done {
        if let Some(task) = task {
            let week = self.week().await?;
            if !week.tasks.iter().any(|known| known.task.id == task) {
                return Err(problem::not_a_task());
            }
        }
        self.clear(held).await?;
        let about = StagePhoto {
            pupil: self.pupil,
            task,
            kind: None,
            written_on: None,
        };
        let staged = self.app.stage_photo_off_thread(photo, about).await;
        let staged: Staged = staged.map_err(|problem| match &*problem.code {
            "enough-waiting" => problem::enough_waiting(),
            _ => problem,
        })?;
        if !staged.found {
            // Corners are shown by hand on larger screens than this page is made for.
            held.waiting = Some(staged.handle);
            self.clear(held).await?;
            return Err(problem::no_sheet());
        }
        let flat = self.app.staged_picture(&staged.handle);
        held.waiting = Some(staged.handle.clone());
        let (looked, _) = plain(Looked {
            handle: staged.handle,
            fit: staged.fit,
            advice: failed(staged.checks),
            width_px: staged.width_px,
            height_px: staged.height_px,
        })?;
        Ok((looked, flat.unwrap_or_default().into()))
    }

    async fn keep(&self, held: &mut Held, handle: String, despite: bool) -> Result<Kept, Problem> {
        // Asked again because the answer was lost: the page is kept once.
        if let Some((_, page)) = held.kept.iter().find(|(known, _)| *known == handle) {
            return Ok(Kept { page: *page });
        }
        // A photograph that another screen staged is none of this visit's.
        if held.waiting.as_ref() != Some(&handle) {
            return Err(app::photo_gone());
        }
        if held.kept.len() >= MOST_PAGES {
            return Err(problem::enough_pages());
        }
        let input = KeepPage {
            handle: handle.clone(),
            despite,
        };
        let KeptPage { page } = self.call("keep_page", input).await?;
        held.waiting = None;
        held.kept.push((handle, page));
        self.pages.fetch_add(1, Ordering::Relaxed);
        Ok(Kept { page })
    }

    async fn outcome(&self, held: &Held, page: PageId) -> Result<Outcome, Problem> {
        if !held.kept.iter().any(|(_, known)| *known == page) {
            return Err(problem::not_allowed());
        }
        let pupil = self.pupil;
        let view: PageView = self.call("page", OfPage { pupil, page }).await?;
        let progress: ProgressView = self.call("progress", OfPupil { pupil }).await?;
        let kind = view.record.kind;
        let focus = progress.focuses.iter().find(|focus| focus.to.is_none());
        let focus = focus.map(|focus| FocusOutcome {
            aspect: focus.aspect,
            try_this: focus.try_this.clone(),
            verdicts: progress
                .charts
                .iter()
                .filter(|chart| chart.aspect == Some(focus.aspect) && chart.kind == kind)
                .map(|chart| MeasureVerdict {
                    name: chart.name,
                    verdict: chart.verdict,
                })
                .collect(),
        });
        let mut figures = view.figures;
        // What is found about letters waits for the tutor's eye, here as on every family's screen; and
        // the page before is history.
        let unseen = view.record.looked_at.is_none();
        figures.retain(|figure| {
            !(unseen && matches!(figure.aspect, Some(Aspect::Form | Aspect::Joins)))
        });
        for figure in &mut figures {
            figure.before = None;
        }
        let text = view.reading.and_then(|reading| reading.text);
        Ok(Outcome {
            written_on: view.record.written_on,
            focus,
            figures,
            text_fits: text.map(|text| text.fits),
        })
    }

    async fn clear(&self, held: &mut Held) -> Result<(), Problem> {
        if let Some(handle) = held.waiting.take() {
            let _: Value = self.call("drop_photo", OfStaged { handle }).await?;
        }
        Ok(())
    }

    /// A use case by its name, off this thread.
    async fn call<T: DeserializeOwned>(
        &self,
        verb: &str,
        input: impl Serialize,
    ) -> Result<T, Problem> {
        let input = serde_json::to_value(input).map_err(|_| problem::broke_off())?;
        let output = self.app.call(verb, input).await?;
        serde_json::from_value(output).map_err(|_| problem::broke_off())
    }
}

fn plain(answer: impl Serialize) -> Done {
    let answer = serde_json::to_value(answer).map_err(|_| problem::broke_off())?;
    Ok((answer, Bytes::new()))
}

fn failed(checks: Vec<FitAdvice>) -> Vec<String> {
    let failed = checks.into_iter().filter(|check| !check.check.passed);
    failed.map(|check| check.advice).collect()
}
