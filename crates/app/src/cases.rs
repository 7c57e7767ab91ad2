//! The case files in memory, and the one point at which a change enters: case file, then store,
//! then the event. What the store did not take is forgotten in memory too.

mod blobs;
mod every;
mod sweeping;

use std::collections::BTreeMap;
use std::sync::{Arc, MutexGuard};

use casefile::{
    BookKind, CaseFile, CircleKind, DocId, Edit, PracticeBook, PracticeEdit, PracticeView,
    PupilView as Books, SignedChange, Signer, Standing,
};
use store::{Store, Write};
use sync::Taken;
use units::{DeviceId, Problem, Profile, PupilId, Role};

use crate::App;
use crate::api::Event;
use crate::book::append;
use crate::device::locked;
use crate::problem;

pub(crate) use self::blobs::{assigned, blobs_named, keep, names};
pub(crate) use self::sweeping::{Owed, is_owed};

/// The practice of this tutor, the id of its log.
const PRACTICE: &str = "practice/id";
/// The pupils that a family was paired for, in that order.
const EXPECTED: &str = "pupils";

/// What has been opened since the program started; a cache over the store.
pub(crate) struct Cases {
    files: BTreeMap<PupilId, Open>,
    practice: Option<PracticeBook>,
    practice_id: Option<PupilId>,
    /// What every log on this device comes to, the practice's among them.
    standings: BTreeMap<PupilId, Arc<Standing>>,
    /// Pupils of which something may come though no log of theirs is here yet.
    expected: Vec<PupilId>,
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

    fn view(&mut self) -> Arc<Books> {
        let file = &self.file;
        let view = self.view.get_or_insert_with(|| Arc::new(file.view()));
        Arc::clone(view)
    }
}

impl Cases {
    /// Reads every log.
    pub fn read(store: &Store) -> Result<Self, Problem> {
        let standings = logs(store)?.into_iter().map(|(id, log)| {
            let standing = CaseFile::of_kept(id, log).standing().clone();
            (id, Arc::new(standing))
        });
        Ok(Self {
            files: BTreeMap::new(),
            practice: None,
            practice_id: crate::device::read_setting(store, PRACTICE)?,
            standings: standings.collect(),
            expected: crate::device::read_setting(store, EXPECTED)?.unwrap_or_default(),
        })
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
        self.in_case(pupil, |case, signer| {
            let written = edits.into_iter().map(|edit| {
                let change = case.write(signer, edit).map_err(problem::write)?;
                Ok(append(&change))
            });
            let mut writes = written.collect::<Result<Vec<_>, Problem>>()?;
            writes.extend(blobs.into_iter().flat_map(|bytes| keep(pupil, bytes)));
            Ok(((), writes))
        })
    }

    /// Changes a case file and writes what that makes, all or nothing. Where it makes nothing, nobody is
    /// told.
    pub(crate) fn in_case<T>(
        &self,
        pupil: PupilId,
        change: impl FnOnce(&mut CaseFile, &Signer) -> Result<(T, Vec<Write>), Problem>,
    ) -> Result<T, Problem> {
        let mut cases = self.opened(pupil)?;
        let open = cases.files.get_mut(&pupil).expect("opened just above");
        let done = change(&mut open.file, &self.inner.signer);
        match done.and_then(|(told, writes)| Ok((told, self.write(writes)?))) {
            Ok((told, false)) => Ok(told),
            Ok((told, true)) => {
                open.view = None;
                cases.remember(pupil);
                drop(cases);
                self.tell(Event::Changed { pupil: Some(pupil) });
                Ok(told)
            }
            Err(problem) => {
                cases.files.remove(&pupil);
                Err(problem)
            }
        }
    }

    /// Changes the practice book and writes what that makes, all or nothing.
    pub(crate) fn in_practice<T>(
        &self,
        change: impl FnOnce(&mut PracticeBook, &Signer) -> Result<(T, Vec<Write>), Problem>,
    ) -> Result<T, Problem> {
        let mut cases = locked(&self.inner.cases);
        let practice = self.practice(&mut cases)?;
        let done = change(practice, &self.inner.signer);
        match done.and_then(|(told, writes)| Ok((told, self.write(writes)?))) {
            Ok((told, false)) => Ok(told),
            Ok((told, true)) => {
                cases.remember_practice();
                drop(cases);
                self.tell(Event::Changed { pupil: None });
                Ok(told)
            }
            Err(problem) => {
                cases.practice = None;
                Err(problem)
            }
        }
    }

    /// Writes all of it or nothing; whether there was anything.
    fn write(&self, writes: Vec<Write>) -> Result<bool, Problem> {
        if writes.is_empty() {
            return Ok(false);
        }
        let written = self.inner.store.transaction(writes);
        written.map_err(problem::store)?;
        Ok(true)
    }

    /// Takes changes of other devices about a pupil, or in the practice. The outermost caller sweeps after
    /// it.
    pub(crate) fn receive(
        &self,
        from: DeviceId,
        id: PupilId,
        changes: Vec<SignedChange>,
    ) -> Result<Taken, Problem> {
        let private = locked(&self.inner.cases).practice_id == Some(id);
        let outcome = match private {
            true => self.in_practice(|practice, _| self.take(from, practice, &changes))?,
            false => self.in_case(id, |case, _| self.take(from, case, &changes))?,
        };
        self.after_settling(id, &outcome)?;
        if private && outcome.taken.new > 0 {
            self.level_tutors()?;
        }
        Ok(outcome.taken)
    }

    /// Bytes of a pupil's books with their history.
    pub(crate) fn history_bytes(&self, pupil: PupilId) -> Result<u64, Problem> {
        let cases = self.opened(pupil)?;
        Ok(cases.files.get(&pupil).map_or(0, |open| open.file.bytes()))
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

    /// The pupils of this device: the tutor's own list, or those that a parent was paired for. Those
    /// that were erased are on no list.
    pub(crate) fn pupil_ids(&self) -> Result<Vec<PupilId>, Problem> {
        let tutor = self.settled()?.role == Role::Tutor;
        let mut cases = locked(&self.inner.cases);
        let mut ids = match tutor {
            true if cases.practice_id.is_none() => Vec::new(),
            true => {
                let mut listed = self.practice(&mut cases)?.view().pupils;
                // A pupil whose log has not come yet is shown once it has.
                listed.retain(|id| cases.standings.contains_key(id));
                listed
            }
            false => cases.expected.clone(),
        };
        let erased = |id: &PupilId| cases.standings.get(id).is_some_and(|log| log.erased);
        ids.retain(|id| !erased(id));
        Ok(ids)
    }

    /// What every log on this device comes to, by the pupil's id, without the practice's.
    pub(crate) fn circles(&self) -> Vec<(PupilId, Arc<Standing>)> {
        let cases = locked(&self.inner.cases);
        let pupils = cases.standings.iter();
        let pupils = pupils.filter(|(_, log)| log.circle == Some(CircleKind::Pupil));
        pupils.map(|(id, log)| (*id, Arc::clone(log))).collect()
    }

    /// What the log of a pupil, or of the practice, comes to; `None` where none is here.
    pub(crate) fn standing(&self, id: PupilId) -> Option<Arc<Standing>> {
        locked(&self.inner.cases).standings.get(&id).cloned()
    }

    /// The practice and what its log comes to; `None` on a parent's device and before the first pupil.
    pub(crate) fn practice_circle(&self) -> Option<(PupilId, Option<Arc<Standing>>)> {
        let cases = locked(&self.inner.cases);
        let id = cases.practice_id?;
        Some((id, cases.standings.get(&id).cloned()))
    }

    /// Whether something of this pupil may come though no log of it is here yet.
    pub(crate) fn is_expected(&self, pupil: PupilId) -> bool {
        let cases = locked(&self.inner.cases);
        cases.expected.contains(&pupil) || cases.practice_id == Some(pupil)
    }

    /// From now on something of this pupil may come.
    pub(crate) fn expect(&self, pupil: PupilId) -> Result<(), Problem> {
        let mut cases = locked(&self.inner.cases);
        let mut expected = cases.expected.clone();
        if !expected.contains(&pupil) {
            expected.push(pupil);
            self.write_setting(EXPECTED, &expected)?;
            cases.expected = expected;
        }
        Ok(())
    }

    /// This device becomes one of the tutor's whose practice has this id.
    pub(crate) fn join_practice(&self, id: PupilId) -> Result<(), Problem> {
        let mut cases = locked(&self.inner.cases);
        if cases.practice_id.is_some_and(|mine| mine != id) {
            return Err(problem::two_practices());
        }
        self.write_setting(PRACTICE, &id)?;
        cases.practice_id = Some(id);
        Ok(())
    }

    /// The tutor's list and notes.
    pub(crate) fn practice_view(&self) -> Result<PracticeView, Problem> {
        let mut cases = locked(&self.inner.cases);
        match cases.practice_id {
            None => Ok(PracticeView::default()),
            Some(_) => Ok(self.practice(&mut cases)?.view()),
        }
    }

    /// The practice, begun where there is none yet.
    pub(crate) fn begun_practice(&self) -> Result<PupilId, Problem> {
        self.begin_practice_under(None)
    }

    /// The practice, begun where there is none yet with this key on paper.
    pub(crate) fn begin_practice_under(&self, paper: Option<DeviceId>) -> Result<PupilId, Problem> {
        let mut cases = locked(&self.inner.cases);
        if let Some(id) = cases.practice_id {
            return Ok(id);
        }
        let (practice, first) = PracticeBook::begin(&self.inner.signer, self.random()?, paper);
        let id = practice.id();
        let named = Write::Setting {
            name: PRACTICE.to_owned(),
            bytes: serde_json::to_vec(&id).expect("an id is plain data"),
        };
        self.inner
            .store
            .transaction(vec![append(&first), named])
            .map_err(problem::store)?;
        cases.practice_id = Some(id);
        cases.practice = Some(practice);
        cases.remember_practice();
        Ok(id)
    }

    /// Puts a new pupil on the list together with the profile, all or nothing.
    pub(crate) fn begin_case(&self, profile: Profile) -> Result<PupilId, Problem> {
        self.begun_practice()?;
        let name = self.settled()?.name;
        let mut cases = locked(&self.inner.cases);
        let signer = &self.inner.signer;
        let tutors = self.practice(&mut cases)?.standing().clone();
        if tutors.role(self.id()).is_none() {
            return Err(problem::write(casefile::WriteRefused::NotAMember));
        }
        let paper = tutors.paper.iter().next().copied();
        let (mut case, first) = CaseFile::begin(signer, self.random()?, paper);
        let pupil = case.pupil();
        let mut changes = vec![first];
        let mine = self.id();
        for &device in tutors.members.keys().filter(|device| **device != mine) {
            changes.push(
                case.admit(signer, device, Role::Tutor)
                    .map_err(problem::write)?,
            );
        }
        let device = mine;
        for edit in [Edit::SetProfile(profile), Edit::NameDevice { device, name }] {
            changes.push(case.write(signer, edit).map_err(problem::write)?);
        }
        let listed = self
            .practice(&mut cases)?
            .write(signer, PracticeEdit::AddPupil(pupil))
            .map_err(problem::write)?;
        changes.push(listed);
        let writes = changes.iter().map(append).collect();
        if let Err(error) = self.inner.store.transaction(writes) {
            cases.practice = None;
            return Err(problem::store(error));
        }
        cases.files.insert(pupil, Open::new(case));
        cases.remember(pupil);
        drop(cases);
        self.tell(Event::Changed { pupil: None });
        Ok(pupil)
    }

    /// Does something while nothing is written, unless the pupil was erased; it is given the books where
    /// a log is here.
    pub(crate) fn unless_erased(
        &self,
        pupil: PupilId,
        work: impl FnOnce(Option<&Books>) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        let mut cases = locked(&self.inner.cases);
        let Some(log) = cases.standings.get(&pupil) else {
            return work(None);
        };
        if log.erased {
            return Ok(());
        }
        let books = self.open_in(&mut cases, pupil)?.view();
        work(Some(&books))
    }

    /// Does something while no change enters and nothing is swept.
    pub(crate) fn with_cases_held<T>(&self, work: impl FnOnce() -> T) -> T {
        let _cases = locked(&self.inner.cases);
        work()
    }

    /// Does something while nothing is written, if a pupil's log still comes to this.
    pub(crate) fn while_standing_is(
        &self,
        pupil: PupilId,
        log: Option<&Arc<Standing>>,
        work: impl FnOnce() -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        let cases = locked(&self.inner.cases);
        match cases.standings.get(&pupil) == log {
            true => work(),
            false => Ok(()),
        }
    }

    fn opened(&self, pupil: PupilId) -> Result<MutexGuard<'_, Cases>, Problem> {
        let mut cases = locked(&self.inner.cases);
        self.open_in(&mut cases, pupil)?;
        Ok(cases)
    }

    /// A pupil's books, opened where they are not yet.
    fn open_in<'a>(&self, cases: &'a mut Cases, pupil: PupilId) -> Result<&'a mut Open, Problem> {
        if cases.files.contains_key(&pupil) {
            return Ok(cases.files.get_mut(&pupil).expect("looked for just above"));
        }
        let here = cases.standings.get(&pupil);
        let known = here.is_some_and(|log| log.circle == Some(CircleKind::Pupil));
        if !known && !cases.expected.contains(&pupil) {
            return Err(problem::no_such_pupil());
        }
        let mine = |id: &DocId| id.pupil == pupil;
        let case = CaseFile::of_kept(pupil, kept(&self.inner.store, mine)?);
        Ok(cases.files.entry(pupil).or_insert(Open::new(case)))
    }

    fn practice<'a>(&self, cases: &'a mut Cases) -> Result<&'a mut PracticeBook, Problem> {
        let id = cases.practice_id.ok_or_else(problem::no_practice)?;
        if cases.practice.is_none() {
            let mine = |doc: &DocId| doc.pupil == id;
            let practice = PracticeBook::of_kept(id, kept(&self.inner.store, mine)?);
            cases.practice = Some(practice);
        }
        Ok(cases.practice.as_mut().expect("set just above"))
    }
}

impl Cases {
    /// Notes what the log of an open case comes to by now.
    fn remember(&mut self, pupil: PupilId) {
        let Some(open) = self.files.get(&pupil) else {
            return;
        };
        let standing = open.file.standing();
        if self
            .standings
            .get(&pupil)
            .is_none_or(|log| **log != *standing)
        {
            self.standings.insert(pupil, Arc::new(standing.clone()));
        }
    }

    fn remember_practice(&mut self) {
        if let Some(practice) = &self.practice {
            let standing = Arc::new(practice.standing().clone());
            self.standings.insert(practice.id(), standing);
        }
    }
}

/// Every log, by the name that follows from its first entry.
pub(crate) fn logs(store: &Store) -> Result<BTreeMap<PupilId, Vec<SignedChange>>, Problem> {
    let mut logs: BTreeMap<PupilId, Vec<SignedChange>> = BTreeMap::new();
    for change in kept(store, DocId::is_log)? {
        logs.entry(change.doc.pupil).or_default().push(change);
    }
    Ok(logs)
}

/// Every kept change of the documents asked for, each document in its own order.
fn kept(store: &Store, wanted: impl Fn(&DocId) -> bool) -> Result<Vec<SignedChange>, Problem> {
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

/// Whether a document is one of the practice's, which only the tutor's own devices see.
pub(crate) fn is_practices(doc: &DocId, practice: Option<PupilId>) -> bool {
    doc.book == BookKind::Practice || practice == Some(doc.pupil)
}
