//! The week's task and the focus.

use casefile::Edit;
use units::{Day, Focus, FocusId, Problem, Role, Task, TaskId, TaskKind};

use crate::App;
use crate::api::{EndFocus, FocusStarted, Nothing, SetTask, StartFocus, TaskSet};

impl App {
    /// Sets the week's task.
    ///
    /// # Errors
    /// This is not the tutor's device, a copied or dictated task has no text, the
    /// minutes are out of range, or the disk is full.
    pub fn set_task(&self, input: SetTask) -> Result<TaskSet, Problem> {
        self.only(Role::Tutor)?;
        if !(1..=120).contains(&input.minutes) {
            return Err(Problem::new(
                "minutes-out-of-range",
                "The minutes of practice are out of range.",
                "Ask for 1 to 120 minutes; 5 to 15 is usual.",
            ));
        }
        let profile = self.profile(input.pupil)?;
        let text = match input.kind {
            TaskKind::OwnWords => None,
            TaskKind::Copied | TaskKind::Dictated => Some(written_lines(input.text)?),
        };
        let task = TaskId(self.random()?);
        let edit = Edit::SetTask(Task {
            id: task,
            set_on: input.set_on.unwrap_or_else(|| self.today()),
            kind: input.kind,
            text,
            paper: input.paper.unwrap_or(profile.paper),
            ruling: input.ruling.unwrap_or(profile.ruling),
            minutes: input.minutes,
            focus: input.focus,
        });
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(TaskSet { task })
    }

    /// Begins a focus period; one that is open ends the day before.
    ///
    /// # Errors
    /// This is not the tutor's device, or the disk is full.
    pub fn start_focus(&self, input: StartFocus) -> Result<FocusStarted, Problem> {
        self.only(Role::Tutor)?;
        let from = input.from.unwrap_or_else(|| self.today());
        let focus = FocusId(self.random()?);
        let mut edits: Vec<Edit> = self
            .books(input.pupil)?
            .focuses
            .iter()
            .filter(|open| open.to.is_none())
            .map(|open| Edit::EndFocus {
                focus: open.id,
                on: open.from.max(Day(from.0 - 1)),
            })
            .collect();
        edits.push(Edit::StartFocus(Focus {
            id: focus,
            aspect: input.aspect,
            from,
            to: None,
            try_this: input.try_this.trim().to_owned(),
        }));
        self.commit(input.pupil, edits, Vec::new())?;
        Ok(FocusStarted { focus })
    }

    /// Ends a focus period.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such focus, or the disk is full.
    pub fn end_focus(&self, input: EndFocus) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let on = input.on.unwrap_or_else(|| self.today());
        self.commit(
            input.pupil,
            vec![Edit::EndFocus {
                focus: input.focus,
                on,
            }],
            Vec::new(),
        )?;
        Ok(Nothing {})
    }
}

/// Lines with something in them, as typed.
fn written_lines(text: Option<Vec<String>>) -> Result<Vec<String>, Problem> {
    let lines = tidy_lines(text.unwrap_or_default());
    if lines.is_empty() {
        return Err(Problem::new(
            "text-missing",
            "A copied or dictated task needs its text.",
            "Type the text line by line, or choose own words.",
        ));
    }
    Ok(lines)
}

/// Trims each line and leaves empty ones out.
pub(crate) fn tidy_lines(lines: Vec<String>) -> Vec<String> {
    lines
        .into_iter()
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|line| !line.is_empty())
        .collect()
}
