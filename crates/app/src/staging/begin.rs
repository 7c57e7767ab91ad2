//! A photograph begins to wait, and stops waiting.

use std::collections::BTreeSet;
use std::sync::Arc;

use units::{Day, Problem, PupilId};

use store::Write;

use super::looked::Seen;
use super::{Looked, Waiting};
use crate::App;
use crate::api::Event;
use crate::device::locked;
use crate::problem;

/// Photographs that may wait at once. There is one more while a photograph that was to take another's place
/// waits beside it, because it shows the page less well: neither is let go of unasked.
const MOST: usize = 4;

/// A photograph that begins to wait.
pub(super) struct New {
    pub waiting: Waiting,
    /// Its file, with the handle before it.
    pub bytes: Vec<u8>,
    pub looked: Arc<Looked>,
    pub small: Arc<[u8]>,
}

impl App {
    /// Whether another may wait; one that it is to take the place of makes room.
    ///
    /// # Errors
    /// As many wait as may.
    pub(super) fn has_room(&self, earlier: Option<&Waiting>) -> Result<(), Problem> {
        let waiting = self.all_waiting()?;
        match leaves_room(&waiting, earlier) {
            true => Ok(()),
            false => Err(self.enough_waiting(&waiting)),
        }
    }

    /// From now on a photograph waits; `earlier` no more, where it gives way to it and is still as it was.
    /// Whether that one waits on.
    pub(super) fn begin_waiting(
        &self,
        new: New,
        earlier: Option<&Waiting>,
        gives_way: bool,
    ) -> Result<bool, Problem> {
        let pupil = new.waiting.pupil;
        let (mut begun, mut full, mut stays) = (false, None, false);
        self.unless_erased(pupil, |_| {
            let all = self.all_waiting()?;
            if !leaves_room(&all, earlier) {
                full = Some(all);
                return Ok(());
            }
            let mut writes = vec![Write::Blob(new.bytes), new.waiting.setting()];
            let now = earlier.and_then(|it| all.iter().find(|one| one.handle() == it.handle()));
            let goes =
                now.filter(|now| gives_way && earlier.map(|it| it.corners) == Some(now.corners));
            writes.extend(goes.iter().flat_map(|goes| goes.gone()));
            self.inner
                .store
                .transaction(writes)
                .map_err(problem::store)?;
            if let Some(goes) = goes {
                self.forget_seen(goes.handle());
            }
            let seen = Seen {
                looked: Some(new.looked),
                small: Some(new.small),
            };
            let handle = new.waiting.handle().to_owned();
            locked(&self.inner.looked).insert(handle, seen);
            stays = now.is_some() && goes.is_none();
            begun = true;
            Ok(())
        })?;
        if let Some(all) = full {
            return Err(self.enough_waiting(&all));
        }
        if !begun {
            return Err(problem::no_such_pupil());
        }
        self.tell_of(pupil);
        Ok(stays)
    }

    /// Lets go of a photograph; one that waits no more is gone already.
    pub(super) fn stop_waiting(&self, handle: &str) -> Result<(), Problem> {
        let gone = self.with_cases_held(|| {
            let place = self.place(handle)?;
            if let Some(place) = &place {
                let written = self.inner.store.transaction(place.gone());
                written.map_err(problem::store)?;
                self.forget_seen(handle);
            }
            Ok::<_, Problem>(place)
        })?;
        if let Some(pupil) = gone.and_then(|place| place.pupil()) {
            self.tell_of(pupil);
        }
        Ok(())
    }

    /// Lets go of the photographs of pupils who are here no longer, and of what nobody can say whose it is.
    pub(crate) fn let_photos_go(&self) -> Result<(), Problem> {
        for place in self.all_places()? {
            let log = place.pupil().and_then(|pupil| self.standing(pupil));
            if log.is_none_or(|log| log.erased) {
                self.stop_waiting(place.handle())?;
            }
        }
        Ok(())
    }

    /// Lets go of a pupil's photographs of what was written before a day. Whoever calls this holds the cases.
    pub(crate) fn photos_before_gone(
        &self,
        pupil: PupilId,
        day: Day,
    ) -> Result<Vec<Write>, Problem> {
        let mut all = self.all_waiting()?;
        all.retain(|it| it.pupil == pupil && it.written_on < day);
        all.iter().for_each(|it| self.forget_seen(it.handle()));
        Ok(all.iter().flat_map(Waiting::gone).collect())
    }

    /// Nobody who holds the cases may call this.
    fn enough_waiting(&self, waiting: &[Waiting]) -> Problem {
        let pupils: BTreeSet<PupilId> = waiting.iter().map(|it| it.pupil).collect();
        let profiles = pupils.into_iter().filter_map(|it| self.profile(it).ok());
        let mut names: Vec<String> = profiles.map(|profile| profile.name).collect();
        names.sort();
        let of = match &names[..] {
            [] => String::new(),
            [name] => format!(", of {name}"),
            [names @ .., last] => format!(", of {} and {last}", names.join(", ")),
        };
        Problem::new(
            "enough-waiting",
            format!(
                "{} photographs wait on this device already{of}.",
                waiting.len()
            ),
            "Keep one of them or let it go first: each waits where its page is added.",
        )
    }

    /// Screens that list what waits ask for it again.
    fn tell_of(&self, pupil: PupilId) {
        let pupil = Some(pupil);
        self.tell(Event::Changed { pupil });
    }
}

fn leaves_room(waiting: &[Waiting], earlier: Option<&Waiting>) -> bool {
    let handle = earlier.map(Waiting::handle);
    let others = waiting.iter().filter(|it| Some(it.handle()) != handle);
    others.count() < MOST
}
