//! Marks on a page.

use casefile::Edit;
use units::{Mark, MarkId, MarkShape, Problem, Role};

use crate::App;
use crate::api::{AddMark, MarkAdded, Nothing, RemoveMark};

impl App {
    /// Puts a mark on a page.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such page, the mark is empty, or the disk is full.
    pub fn add_mark(&self, input: AddMark) -> Result<MarkAdded, Problem> {
        self.only(Role::Tutor)?;
        let words = input.words.trim().to_owned();
        let wordless = match &input.shape {
            MarkShape::Note { .. } => words.is_empty(),
            MarkShape::Pen { points } => points.is_empty(),
            MarkShape::Box { .. } => false,
        };
        if wordless {
            return Err(Problem::new(
                "empty-mark",
                "There is nothing in this mark yet.",
                "Write a sentence, draw a stroke or draw a box.",
            ));
        }
        self.page_record(input.pupil, input.page)?;
        let mark = MarkId(self.random()?);
        let edit = Edit::AddMark(Mark {
            id: mark,
            page: input.page,
            shape: input.shape,
            words,
            aspect: input.aspect,
            praise: input.praise,
            made_at: self.now(),
            by: self.id(),
        });
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(MarkAdded { mark })
    }

    /// Takes a mark off again.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such mark, or the disk is full.
    pub fn remove_mark(&self, input: RemoveMark) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        self.commit(input.pupil, vec![Edit::RemoveMark(input.mark)], Vec::new())?;
        Ok(Nothing {})
    }
}
