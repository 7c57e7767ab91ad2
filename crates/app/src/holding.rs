//! What other devices are known to hold.

use std::collections::BTreeSet;

use units::{BlobId, DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::{Held, Holding, OfDevice};
use crate::pupils::count;

impl App {
    /// How many of the pages that are here a device is known to hold, pupil by pupil. It may hold more:
    /// known is what it said at the last meeting or in its last carry file.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn holds(&self, input: OfDevice) -> Result<Holding, Problem> {
        let mut pupils = Vec::new();
        for pupil in self.shared_with(input.device) {
            let held = self.known_to_hold(pupil, input.device)?;
            let books = self.books(pupil)?;
            let pages = books.pages.iter();
            let pages =
                pages.filter(|page| held.contains(&page.picture) || page.added_by == input.device);
            pupils.push(Held {
                pupil,
                pages: count(pages.count()),
                of: count(books.pages.len()),
            });
        }
        Ok(Holding { pupils })
    }

    /// The pictures that some device of the tutor's is known to hold; `None` on the tutor's own.
    pub(crate) fn with_tutor(&self, pupil: PupilId) -> Result<Option<BTreeSet<BlobId>>, Problem> {
        if self.settled()?.role == Role::Tutor {
            return Ok(None);
        }
        let mut held = BTreeSet::new();
        let log = self.standing(pupil);
        let tutors = log.iter().flat_map(|log| &log.members);
        for (device, _) in tutors.filter(|(_, role)| **role == Role::Tutor) {
            held.append(&mut self.known_to_hold(pupil, *device)?);
        }
        Ok(Some(held))
    }

    fn known_to_hold(&self, pupil: PupilId, device: DeviceId) -> Result<BTreeSet<BlobId>, Problem> {
        let mut docs = self.shown_to(device)?;
        docs.retain(|(doc, _)| doc.pupil == pupil);
        let acknowledged = self.acknowledged(device, pupil)?;
        self.held_by(pupil, &docs, &acknowledged)
    }
}
