//! Marks on a page.

use casefile::Edit;
use units::{Mark, MarkId, MarkShape, Problem, Role};

use crate::App;
use crate::api::{AddMark, ChangeMark, MarkAdded, Nothing, RemoveMark};

impl App {
    /// Puts a mark on a page.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such page, the mark is empty, or the disk is full.
    pub fn add_mark(&self, input: AddMark) -> Result<MarkAdded, Problem> {
        self.only(Role::Tutor)?;
        let words = words_with(&input.shape, &input.words)?;
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

    /// Alters a mark that is there: its words, kind, aspect or shape.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such mark, it would be empty, or the disk is full.
    pub fn change_mark(&self, input: ChangeMark) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let words = words_with(&input.shape, &input.words)?;
        let books = self.books(input.pupil)?;
        let known = books.marks.iter().find(|known| known.id == input.mark);
        let known = known.ok_or_else(|| {
            Problem::new(
                "no-such-mark",
                "This mark is no longer on the page.",
                "Put it on the page anew if it is still wanted.",
            )
        })?;
        let now = Mark {
            shape: input.shape,
            words,
            aspect: input.aspect,
            praise: input.praise,
            ..known.clone()
        };
        self.commit(input.pupil, vec![Edit::ChangeMark(now)], Vec::new())?;
        Ok(Nothing {})
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

/// The sentence of a mark of this shape, trimmed.
fn words_with(shape: &MarkShape, words: &str) -> Result<String, Problem> {
    let words = words.trim();
    let empty = match shape {
        MarkShape::Note { .. } => words.is_empty(),
        MarkShape::Pen { points } => points.is_empty(),
        MarkShape::Box { .. } => false,
    };
    match empty {
        true => Err(Problem::new(
            "empty-mark",
            "There is nothing in this mark yet.",
            "Write a sentence, draw a stroke or draw a box.",
        )),
        false => Ok(words.to_owned()),
    }
}
