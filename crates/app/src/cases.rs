//! The case files in memory, and the one point at which a change enters: case file, then store,
//! then the event. What the store did not take is forgotten in memory too.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::{Arc, MutexGuard};

use casefile::{
    Accepted, CaseFile, DocId, Edit, PracticeBook, PracticeEdit, PupilView as Books, SignedChange,
};
use store::Write;
use sync::Taken;
use units::{Problem, Profile, PupilId, Role};

use crate::App;
use crate::api::Event;
use crate::device::locked;
use crate::problem;

/// What has been opened since the program started; a cache over the store.
#[derive(Default)]
pub(crate) struct Cases {
    files: BTreeMap<PupilId, Open>,
    practice: Option<PracticeBook>,
}

/// A case file with its merged view, made again after each change.
struct Open {
    file: CaseFile,
    view: Option<Arc<Books>>,
}

impl Open {
    fn new(file: CaseFile) -> Self {
        Self { file, view: None }
    }

    /// The file, about to be changed.
    fn change(&mut self) -> &mut CaseFile {
        self.view = None;
        &mut self.file
    }

    fn view(&mut self) -> Arc<Books> {
        let file = &self.file;
        let view = self.view.get_or_insert_with(|| Arc::new(file.view()));
        Arc::clone(view)
    }
}

impl App {
    /// Writes edits of this device about a pupil, with the blobs that they name, all or nothing.
    pub(crate) fn commit(
        &self,
        pupil: PupilId,
        edits: Vec<Edit>,
        blobs: Vec<Vec<u8>>,
    ) -> Result<(), Problem> {
        let mut cases = self.opened(pupil)?;
        let mut writes: Vec<Write> = blobs.into_iter().map(Write::Blob).collect();
        let open = cases.files.get_mut(&pupil).expect("opened just above");
        let case = open.change();
        let written = edits.into_iter().try_for_each(|edit| {
            let change = case
                .write(&self.inner.signer, edit)
                .map_err(problem::write)?;
            writes.push(append(&change));
            Ok(())
        });
        let kept =
            written.and_then(|()| self.inner.store.transaction(writes).map_err(problem::store));
        if kept.is_err() {
            cases.files.remove(&pupil);
        }
        drop(cases);
        kept?;
        self.tell(Event::Changed { pupil: Some(pupil) });
        Ok(())
    }

    /// Takes changes of other devices about a pupil.
    pub(crate) fn receive(
        &self,
        pupil: PupilId,
        changes: Vec<SignedChange>,
    ) -> Result<Taken, Problem> {
        let mut cases = self.opened(pupil)?;
        let open = cases.files.get_mut(&pupil).expect("opened just above");
        let case = open.change();
        let mut taken = Taken::default();
        let mut writes = Vec::new();
        for (change, told) in changes.iter().zip(case.accept_all(&changes)) {
            match told {
                Ok(Accepted::New) => {
                    taken.new += 1;
                    writes.push(append(change));
                }
                Ok(Accepted::Known) => taken.known += 1,
                Err(_) => taken.refused += 1,
            }
        }
        if let Err(error) = self.inner.store.transaction(writes) {
            cases.files.remove(&pupil);
            return Err(problem::store(error));
        }
        drop(cases);
        if taken.new > 0 {
            self.tell(Event::Changed { pupil: Some(pupil) });
        }
        Ok(taken)
    }

    /// A pupil's books as merged from every device.
    pub(crate) fn books(&self, pupil: PupilId) -> Result<Arc<Books>, Problem> {
        let mut cases = self.opened(pupil)?;
        let open = cases.files.get_mut(&pupil).expect("opened just above");
        Ok(open.view())
    }

    pub(crate) fn profile(&self, pupil: PupilId) -> Result<Profile, Problem> {
        let profile = self.books(pupil)?.profile.clone();
        profile.ok_or_else(|| {
            Problem::new(
                "profile-not-here",
                "The tutor's book of this pupil has not arrived yet.",
                "Meet the tutor's device, then try again.",
            )
        })
    }

    /// The pupils of this device: the tutor's own list, or those that a parent was paired for.
    pub(crate) fn pupil_ids(&self) -> Result<Vec<PupilId>, Problem> {
        if self.settled()?.role == Role::Tutor {
            let mut cases = locked(&self.inner.cases);
            return Ok(self.practice(&mut cases)?.view().pupils);
        }
        let mut pupils = Vec::new();
        for peer in locked(&self.inner.peers).iter() {
            for &pupil in &peer.pupils {
                if !pupils.contains(&pupil) {
                    pupils.push(pupil);
                }
            }
        }
        Ok(pupils)
    }

    /// Puts a new pupil on the list together with the profile, all or nothing.
    pub(crate) fn found(&self, pupil: PupilId, profile: Profile) -> Result<(), Problem> {
        let mut cases = locked(&self.inner.cases);
        let mut case = CaseFile::new(pupil, self.roster(pupil)?);
        let first = case
            .write(&self.inner.signer, Edit::SetProfile(profile))
            .map_err(problem::write)?;
        let listed = self
            .practice(&mut cases)?
            .write(&self.inner.signer, PracticeEdit::AddPupil(pupil))
            .map_err(problem::write)?;
        if let Err(error) = self
            .inner
            .store
            .transaction(vec![append(&first), append(&listed)])
        {
            cases.practice = None;
            return Err(problem::store(error));
        }
        cases.files.insert(pupil, Open::new(case));
        drop(cases);
        self.tell(Event::Changed { pupil: None });
        Ok(())
    }

    /// Who may write has changed: the files are opened anew when next asked for.
    pub(crate) fn forget_open_cases(&self) {
        locked(&self.inner.cases).files.clear();
    }

    fn opened(&self, pupil: PupilId) -> Result<MutexGuard<'_, Cases>, Problem> {
        let cases = locked(&self.inner.cases);
        if cases.files.contains_key(&pupil) {
            // Only listed pupils are ever opened, so the list need not be read again.
            return Ok(cases);
        }
        drop(cases);
        if !self.pupil_ids()?.contains(&pupil) {
            return Err(Problem::new(
                "no-such-pupil",
                "This pupil is not on this device.",
                "Choose a pupil from the list.",
            ));
        }
        let mut cases = locked(&self.inner.cases);
        if let Entry::Vacant(place) = cases.files.entry(pupil) {
            let mut case = CaseFile::new(pupil, self.roster(pupil)?);
            let mine = |id: &DocId| id.pupil == pupil && !id.is_private();
            // Kept once, so accepted once; what a removed device wrote stays unread.
            case.accept_all(&self.kept(mine)?);
            place.insert(Open::new(case));
        }
        Ok(cases)
    }

    fn practice<'a>(&self, cases: &'a mut Cases) -> Result<&'a mut PracticeBook, Problem> {
        if cases.practice.is_none() {
            let mut practice = PracticeBook::new(vec![self.id()]);
            practice.accept_all(&self.kept(DocId::is_private)?);
            cases.practice = Some(practice);
        }
        Ok(cases.practice.as_mut().expect("set just above"))
    }

    /// Every kept change of the documents asked for, each document in its own order.
    fn kept(&self, wanted: impl Fn(&DocId) -> bool) -> Result<Vec<SignedChange>, Problem> {
        let store = &self.inner.store;
        let mut kept = Vec::new();
        for (doc, _) in store.docs().map_err(problem::store)? {
            if !DocId::decode(&doc).is_ok_and(|id| wanted(&id)) {
                continue;
            }
            for (_, bytes) in store.changes(&doc, 1..).map_err(problem::store)? {
                let change = SignedChange::decode(&bytes);
                kept.push(change.map_err(|_| problem::damaged("one change"))?);
            }
        }
        Ok(kept)
    }
}

fn append(change: &SignedChange) -> Write {
    Write::Change {
        doc: change.doc.encode(),
        seq: change.seq,
        bytes: change.encode(),
    }
}
