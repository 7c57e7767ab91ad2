//! What a person puts right on a page; the page is measured again with it.

use casefile::Edit;
use units::{AmendmentId, AmendmentRecord, Moment, Problem, Role};

use crate::App;
use crate::api::{Amend, Amended, Nothing, TakeBack};
use crate::device::random;

impl App {
    /// Puts something right on a page. It is kept together with the new reading.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such page, its picture is not here yet, the place
    /// is none on a page, or the disk is full.
    pub fn amend(&self, input: Amend) -> Result<Amended, Problem> {
        self.only(Role::Tutor)?;
        let amendment = AmendmentId(random()?);
        self.reread(input.pupil, input.page, |_, put_right| {
            let record = AmendmentRecord {
                id: amendment,
                page: input.page,
                what: input.what,
                made_at: after_all(put_right, self.now()),
                by: self.id(),
            };
            put_right.push(record.clone());
            Ok(vec![Edit::Amend(record)])
        })?;
        Ok(Amended { amendment })
    }

    /// Takes back what was put right.
    ///
    /// # Errors
    /// This is not the tutor's device, nothing of this id was put right on the page, its picture is
    /// not here yet, or the disk is full.
    pub fn take_back(&self, input: TakeBack) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        self.reread(input.pupil, input.page, |_, put_right| {
            let all = put_right.len();
            put_right.retain(|known| known.id != input.amendment);
            if put_right.len() == all {
                return Err(Problem::new(
                    "no-such-amendment",
                    "This is not among what was put right on this page.",
                    "Open the page again: it may have been taken back on another device.",
                ));
            }
            Ok(vec![Edit::TakeBack(input.amendment)])
        })
    }
}

/// Now, but after all that was put right before: of two about the same the later holds, and the
/// clocks of two devices need not agree.
fn after_all(before: &[AmendmentRecord], now: Moment) -> Moment {
    let last = before.iter().map(|known| known.made_at.0).max();
    Moment(last.map_or(now.0, |last| now.0.max(last.saturating_add(1))))
}
