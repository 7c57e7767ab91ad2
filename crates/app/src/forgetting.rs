//! Letting go for good: pages, a history, a whole pupil, and what is left of them on this disk.

use std::collections::BTreeSet;

use casefile::{Edit, FoundingId, PracticeEdit};
use units::{Ask, AskId, Day, Problem, PupilId, Role};

use crate::App;
use crate::api::{
    AskToForget, ForgetBefore, ForgetPages, KeepingView, Nothing, OfAsk, OfPage, OfPupil,
    SetDeleteBy,
};
use crate::book::{Outcome, append};
use crate::problem;

impl App {
    /// Forgets pages with all that belongs to them, on every device.
    ///
    /// # Errors
    /// This is not the tutor's device, a newer version of the program has written here, or the disk
    /// is full.
    pub fn forget_pages(&self, input: ForgetPages) -> Result<Nothing, Problem> {
        let ids: Vec<[u8; 16]> = input.pages.iter().map(|page| page.0).collect();
        self.found_anew_without(input.pupil, &ids, None)
    }

    /// Forgets whatever was written, set or practised before a day: a school year that is over. Photographs of
    /// it that wait on this device go too.
    ///
    /// # Errors
    /// As [`App::forget_pages`].
    pub fn forget_before(&self, input: ForgetBefore) -> Result<Nothing, Problem> {
        let books = self.books(input.pupil)?;
        let before = |day: &Day| *day < input.day;
        let pages = books.pages.iter().filter(|it| before(&it.written_on));
        let mut ids: Vec<[u8; 16]> = pages.map(|it| it.id.0).collect();
        let kept_for: BTreeSet<_> = books
            .pages
            .iter()
            .filter(|page| !before(&page.written_on))
            .filter_map(|page| page.task)
            .collect();
        // A task of before stays while a page that stays answers it.
        let tasks = books.tasks.iter().filter(|it| before(&it.set_on));
        ids.extend(
            tasks
                .filter(|it| !kept_for.contains(&it.id))
                .map(|it| it.id.0),
        );
        let over = books.focuses.iter();
        ids.extend(
            over.filter(|it| it.to.as_ref().is_some_and(before))
                .map(|it| it.id.0),
        );
        ids.extend(
            books
                .practised
                .iter()
                .filter(|it| before(&it.day))
                .map(|it| it.id.0),
        );
        ids.extend(
            books
                .setups
                .iter()
                .filter(|it| before(&it.day))
                .map(|it| it.id.0),
        );
        self.found_anew_without(input.pupil, &ids, Some(input.day))
    }

    /// Shortens a pupil's history: what was replaced, removed or taken out goes, on every device.
    ///
    /// # Errors
    /// As [`App::forget_pages`].
    pub fn shorten_history(&self, input: OfPupil) -> Result<Nothing, Problem> {
        self.found_anew_without(input.pupil, &[], None)
    }

    /// Founds the books anew without what has these ids, and lets go of photographs that wait of what was
    /// written before a day.
    fn found_anew_without(
        &self,
        pupil: PupilId,
        ids: &[[u8; 16]],
        before: Option<Day>,
    ) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let founding = FoundingId(self.random()?);
        let held = self.blobs_of(pupil)?;
        let outcome = self.in_case(pupil, |case, signer| {
            let settled = case
                .found_anew(signer, founding, ids, |reading| held.contains(&reading))
                .map_err(problem::write)?;
            let (mut writes, mut outcome) = (Vec::new(), Outcome::default());
            self.settle_on_disk(pupil, &settled, &[], &mut writes, &mut outcome)?;
            if let Some(day) = before {
                writes.extend(self.photos_before_gone(pupil, day)?);
            }
            Ok((outcome, writes))
        })?;
        self.after_settling(pupil, &outcome)?;
        self.sweep()?;
        Ok(Nothing {})
    }

    /// Erases a pupil: here at once, on the other devices when they next hear of it.
    ///
    /// # Errors
    /// This is not the tutor's device, or the disk is full.
    pub fn erase_pupil(&self, input: OfPupil) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let pupil = input.pupil;
        let outcome = self.in_case(pupil, |case, signer| {
            let step = case.erase(signer).map_err(problem::write)?;
            let settled = case.settle(signer).map_err(problem::write)?;
            let (mut writes, mut outcome) = (vec![append(&step)], Outcome::default());
            self.settle_on_disk(pupil, &settled, &[], &mut writes, &mut outcome)?;
            Ok((outcome, writes))
        })?;
        self.after_settling(pupil, &outcome)?;
        let listed = self.forget_in_practice(pupil);
        self.sweep()?;
        listed.map(|()| Nothing {})
    }

    /// Notes about a pupil go from the practice book and from its history.
    pub(crate) fn forget_in_practice(&self, pupil: PupilId) -> Result<(), Problem> {
        let founding = FoundingId(self.random()?);
        self.in_practice(|practice, signer| {
            let (mut writes, mut outcome) = (Vec::new(), Outcome::default());
            if practice.view().pupils.contains(&pupil) {
                let edit = PracticeEdit::RemovePupil(pupil);
                let change = practice.write(signer, edit).map_err(problem::write)?;
                writes.push(append(&change));
            }
            let settled = practice
                .found_anew(signer, founding, &[pupil])
                .map_err(problem::write)?;
            self.settle_on_disk(practice.id(), &settled, &[], &mut writes, &mut outcome)?;
            Ok(((), writes))
        })
    }

    /// How long a pupil is kept, how much there is of it, and who wishes what.
    ///
    /// # Errors
    /// There is no such pupil on this device.
    pub fn keeping(&self, input: OfPupil) -> Result<KeepingView, Problem> {
        let books = self.books(input.pupil)?;
        let bytes = self.history_bytes(input.pupil)?;
        Ok(KeepingView {
            delete_by: books.delete_by,
            due: books.delete_by.is_some_and(|day| day <= self.today()),
            asks: books.asks.clone(),
            history_bytes: bytes as f64,
            oldest_page: books.pages.first().map(|page| page.written_on),
            lacks: self.copy_lacks(input.pupil, &books)?,
        })
    }

    /// Takes a page out: it is shown no longer, and gone for good when the books are next founded
    /// anew.
    ///
    /// # Errors
    /// There is no such page, or the disk is full.
    pub fn take_page_out(&self, input: OfPage) -> Result<Nothing, Problem> {
        let edit = Edit::TakePageOut(input.page);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Asks the tutor to forget a page, or everything.
    ///
    /// # Errors
    /// The disk is full.
    pub fn ask_to_forget(&self, input: AskToForget) -> Result<Nothing, Problem> {
        self.only(Role::Parent)?;
        let ask = Ask {
            id: AskId(self.random()?),
            wish: input.wish,
            made_at: self.now(),
            by: self.id(),
        };
        self.commit(input.pupil, vec![Edit::AskToForget(ask)], Vec::new())?;
        Ok(Nothing {})
    }

    /// Puts a wish aside.
    ///
    /// # Errors
    /// This is not the tutor's device, or there is no such wish.
    pub fn put_ask_aside(&self, input: OfAsk) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::PutAskAside(input.ask);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Sets the day by which a pupil is to be erased.
    ///
    /// # Errors
    /// This is not the tutor's device, or the day is none.
    pub fn set_delete_by(&self, input: SetDeleteBy) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::SetDeleteBy(input.day);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }
}
