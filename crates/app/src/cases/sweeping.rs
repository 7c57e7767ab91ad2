//! The disk is cleaned of what was let go of: blobs that no page names any more, and by a new key whatever
//! remains of the rest.
//!
//! Whoever lets something of a pupil go writes in the same transaction that this is owed. It is done by the
//! outermost caller, once all is written; cut off, it is done at the next start.

use std::collections::{BTreeMap, BTreeSet};

use casefile::CircleKind;
use store::Write;
use units::{BlobId, Problem, PupilId};

use super::{Cases, blobs};
use crate::App;
use crate::api::Event;
use crate::device::locked;
use crate::problem;

/// Settings that begin so stand for what is owed, one for each pupil. Their value is random, so that what
/// became owed while the disk was cleaned is told from what was owed before.
const OWED: &str = "device/sweep/";

/// The name of the setting by which something is owed of a pupil.
pub(crate) fn is_owed(pupil: PupilId) -> String {
    format!("{OWED}{pupil}")
}

/// What is owed, by pupil.
pub(crate) type Owed = BTreeMap<PupilId, Vec<u8>>;

impl App {
    /// Something of a pupil is let go of: what else here tells of it goes, and the disk is to be cleaned.
    pub(crate) fn let_go(&self, pupil: PupilId) -> Result<Vec<Write>, Problem> {
        let about = crate::carrying::about(pupil);
        let about = self.inner.store.settings_under(&about);
        let about = about.map_err(problem::store)?.into_iter();
        let mut writes: Vec<Write> = about.map(Write::RemoveSetting).collect();
        writes.push(Write::RemoveSetting(crate::rows::setting(pupil)));
        writes.push(self.owed(pupil)?);
        Ok(writes)
    }

    fn owed(&self, pupil: PupilId) -> Result<Write, Problem> {
        Ok(Write::Setting {
            name: is_owed(pupil),
            bytes: self.random::<16>()?.to_vec(),
        })
    }

    /// Cleans the disk as far as that is owed. Nobody who holds the cases may call this.
    ///
    /// # Errors
    /// The disk, or the first reason why something stayed: what cannot be told whether it may go. All else
    /// went, and what is owed stays so.
    pub(crate) fn sweep(&self) -> Result<(), Problem> {
        loop {
            // Whoever comes second finds it done, or does the rest.
            let mut renewed_for = locked(&self.inner.sweeping);
            if self.all_owed()?.is_empty() {
                return Ok(());
            }
            // One pupil that cannot be read keeps nothing of another's here.
            let mut cleaned = self.assign_blobs();
            // What can be taken of files that wait is taken before the others are let go.
            let (later, taken) = self.take_waiting()?;
            cleaned = cleaned.and(taken);
            let owed = self.all_owed()?;
            for pupil in owed.keys() {
                self.let_waiting_go(*pupil, &later.untried)?;
            }
            self.let_photos_go()?;
            cleaned = cleaned.and(self.remove_unnamed(&owed)?);
            // Crops are made from what was let go of.
            *locked(&self.inner.cut) = None;
            locked(&self.inner.thumbs).clear();
            cleaned = cleaned.and(self.forget_drafts());
            if owed.keys().any(|pupil| self.is_erased(*pupil)) {
                self.forget_peers_of_nobody()?;
            }
            // Where something has to stay, the next try begins here again: not with a new key each time.
            if cleaned.is_ok() || *renewed_for != owed {
                self.inner.store.renew_key().map_err(problem::store)?;
                renewed_for.clone_from(&owed);
            }
            cleaned?;
            self.is_done(&owed)?;
            self.tell(Event::Changed { pupil: None });
        }
    }

    fn is_erased(&self, pupil: PupilId) -> bool {
        self.standing(pupil).is_some_and(|log| log.erased)
    }

    fn all_owed(&self) -> Result<Owed, Problem> {
        let store = &self.inner.store;
        let names = store.settings_under(OWED).map_err(problem::store)?;
        let mut owed = Owed::new();
        for name in names {
            let pupil = name.strip_prefix(OWED).and_then(|id| id.parse().ok());
            let value = store.setting(&name).map_err(problem::store)?;
            owed.extend(pupil.zip(value));
        }
        Ok(owed)
    }

    /// Nothing is owed any more but what became so meanwhile.
    fn is_done(&self, owed: &Owed) -> Result<(), Problem> {
        // With the cases held nobody lets anything go.
        let _cases = locked(&self.inner.cases);
        let now = self.all_owed()?;
        let same = owed
            .iter()
            .filter(|(pupil, value)| now.get(pupil) == Some(value));
        let done = same.map(|(pupil, _)| Write::RemoveSetting(is_owed(*pupil)));
        let done = done.collect();
        self.inner.store.transaction(done).map_err(problem::store)
    }

    /// Removes the blobs of these pupils that no page of theirs names, and every part of one that no
    /// page names. Nothing is written meanwhile, so that none is taken for left over whose page is just
    /// being kept. No blob goes before it was said of all of them whose they are, none of a pupil that cannot
    /// be read, and then no part: the reason for that is told.
    fn remove_unnamed(&self, owed: &Owed) -> Result<Result<(), Problem>, Problem> {
        let store = &self.inner.store;
        let mut cases = locked(&self.inner.cases);
        cases.files.retain(|_, open| !open.file.standing().erased);
        let pupils: Vec<PupilId> = cases.standings.keys().copied().collect();
        let mut writes = Vec::new();
        let mut belonging = BTreeSet::new();
        let mut of: BTreeMap<PupilId, BTreeSet<BlobId>> = BTreeMap::new();
        for (pupil, id) in self.all_blobs()? {
            match owed.contains_key(&pupil) {
                true => drop(of.entry(pupil).or_default().insert(id)),
                false => drop(belonging.insert(id)),
            }
        }
        let mut read = Ok(());
        let mut named_of = |pupil, among: &BTreeSet<BlobId>| {
            let named = self.named_of(&mut cases, pupil, among);
            named.unwrap_or_else(|problem| {
                if read.is_ok() {
                    read = Err(problem);
                }
                // It may name any of them.
                among.clone()
            })
        };
        for (pupil, here) in of {
            let named = named_of(pupil, &here);
            let gone = here.difference(&named);
            writes.extend(gone.map(|id| blobs::belongs_no_more(pupil, *id)));
            belonging.extend(here.intersection(&named));
        }
        belonging.extend(self.waiting_files()?);
        belonging.extend(self.photos_that_wait()?);
        let mut gone = match self.are_assigned()? {
            true => store.blobs().map_err(problem::store)?,
            false => Vec::new(),
        };
        gone.retain(|id| !belonging.contains(id));
        let mut parts: BTreeSet<BlobId> =
            store.parts().map_err(problem::store)?.into_iter().collect();
        for pupil in pupils {
            if parts.is_empty() {
                break;
            }
            let named = named_of(pupil, &parts);
            parts.retain(|id| !named.contains(id));
        }
        gone.extend(parts);
        writes.extend(gone.into_iter().map(Write::RemoveBlob));
        store.transaction(writes).map_err(problem::store)?;
        Ok(read)
    }

    /// Which of these blobs a pupil's books name.
    pub(super) fn named_of(
        &self,
        cases: &mut Cases,
        pupil: PupilId,
        among: &BTreeSet<BlobId>,
    ) -> Result<BTreeSet<BlobId>, Problem> {
        let log = cases.standings.get(&pupil);
        let stands = log.is_some_and(|log| !log.erased && log.circle == Some(CircleKind::Pupil));
        if !stands {
            return Ok(BTreeSet::new());
        }
        let open = self.open_in(cases, pupil)?;
        let books = open.view();
        let mut named = blobs::blobs_named(&books);
        if books.newer {
            // What a newer version names is not shown: it is looked for in the bytes of what is kept.
            named.extend(open.file.blobs_named(among));
        }
        Ok(named)
    }
}
