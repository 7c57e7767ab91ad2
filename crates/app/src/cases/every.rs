//! One step in many logs, the practice's and the pupils', written in one transaction.

use casefile::{CaseFile, PracticeBook, SignedChange, Signer, Standing, WriteRefused};
use units::{DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::Event;
use crate::book::append;
use crate::device::locked;
use crate::problem;

/// A log, of a pupil or of the practice.
pub(crate) trait Log {
    fn standing(&self) -> &Standing;
    fn admit_tutors(&mut self, by: &Signer, device: DeviceId)
    -> Result<SignedChange, WriteRefused>;
    fn name_paper(&mut self, by: &Signer, key: DeviceId) -> Result<SignedChange, WriteRefused>;
    fn remove(&mut self, by: &Signer, device: DeviceId) -> Result<SignedChange, WriteRefused>;
}

impl Log for CaseFile {
    fn standing(&self) -> &Standing {
        self.standing()
    }
    fn admit_tutors(
        &mut self,
        by: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.admit(by, device, Role::Tutor)
    }
    fn name_paper(&mut self, by: &Signer, key: DeviceId) -> Result<SignedChange, WriteRefused> {
        self.name_paper_key(by, key)
    }
    fn remove(&mut self, by: &Signer, device: DeviceId) -> Result<SignedChange, WriteRefused> {
        self.remove(by, device)
    }
}

impl Log for PracticeBook {
    fn standing(&self) -> &Standing {
        self.standing()
    }
    fn admit_tutors(
        &mut self,
        by: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.admit(by, device)
    }
    fn name_paper(&mut self, by: &Signer, key: DeviceId) -> Result<SignedChange, WriteRefused> {
        self.name_paper_key(by, key)
    }
    fn remove(&mut self, by: &Signer, device: DeviceId) -> Result<SignedChange, WriteRefused> {
        self.remove(by, device)
    }
}

impl App {
    /// Takes a step in those logs, the practice's and those of pupils who were not erased, that come to such a
    /// standing: all or nothing. The step is told where a log cannot be read.
    ///
    /// # Errors
    /// Those of the step, or the disk is full. Then nothing has changed.
    pub(crate) fn in_every_log(
        &self,
        which: impl Fn(&Standing) -> bool,
        mut step: impl FnMut(Result<&mut dyn Log, Problem>) -> Result<Option<SignedChange>, Problem>,
    ) -> Result<(), Problem> {
        let mut cases = locked(&self.inner.cases);
        let stands = cases.standings.iter();
        let stands = stands.filter(|(_, log)| !log.erased && which(log));
        let ids: Vec<PupilId> = stands.map(|(id, _)| *id).collect();
        let mut touched = Vec::new();
        let mut taken = || {
            let mut writes = Vec::new();
            for &id in &ids {
                let log: Result<&mut dyn Log, Problem> = match cases.practice_id == Some(id) {
                    true => self.practice(&mut cases).map(|log| log as _),
                    false => self.open_in(&mut cases, id).map(|open| &mut open.file as _),
                };
                touched.push(id);
                writes.extend(step(log)?.as_ref().map(append));
            }
            self.write(writes)
        };
        let taken = taken();
        for id in touched {
            match cases.practice_id == Some(id) {
                true if taken.is_ok() => cases.remember_practice(),
                true => cases.practice = None,
                false if taken.is_ok() => {
                    cases.files.entry(id).and_modify(|open| open.view = None);
                    cases.remember(id);
                }
                false => drop(cases.files.remove(&id)),
            }
        }
        drop(cases);
        if taken? {
            self.tell(Event::Changed { pupil: None });
        }
        Ok(())
    }

    /// Names a key on paper in the practice and for every pupil of whom this device is the tutor's. Where
    /// there is a key already, that one signs.
    ///
    /// # Errors
    /// Some log holds to another key than the one before. Then none names the new one.
    pub(crate) fn name_paper_everywhere(
        &self,
        key: DeviceId,
        before: Option<&Signer>,
    ) -> Result<(), Problem> {
        let mine = self.id();
        let tutors = |log: &Standing| log.role(mine) == Some(Role::Tutor);
        self.in_every_log(tutors, |log| {
            let log = log?;
            let standing = log.standing();
            let first = standing.paper.is_empty();
            let holds = |key: &&Signer| standing.paper.contains(&key.device());
            let by = match before.filter(holds) {
                Some(before) => before,
                None if first => &self.inner.signer,
                None => return Err(problem::paper_key_there(before.is_some())),
            };
            let named = log.name_paper(by, key).map_err(problem::write)?;
            match log.standing().paper.contains(&key) {
                true => Ok(Some(named)),
                false => Err(problem::paper_key_there(before.is_some())),
            }
        })
    }

    /// Admits this device, as one of the tutor's, by another's signature or by the key on paper, wherever
    /// that may and this device does not belong. Where it was removed, only the key on paper brings it back.
    ///
    /// # Errors
    /// Some log has no room, or the disk is full. The others have admitted it all the same.
    pub(crate) fn admit_self_by(&self, by: &Signer) -> Result<(), Problem> {
        let mine = self.id();
        self.admit_where(by, mine, |log| {
            let tutors = log.role(by.device()) == Some(Role::Tutor);
            log.paper.contains(&by.device()) || tutors && !log.removed.contains_key(&mine)
        })
    }

    /// Admits another of the tutor's devices wherever this one is the tutor's, also where it was removed.
    ///
    /// # Errors
    /// As [`App::admit_self_by`].
    pub(crate) fn admit_everywhere(&self, device: DeviceId) -> Result<(), Problem> {
        let mine = self.id();
        let tutors = |log: &Standing| log.role(mine) == Some(Role::Tutor);
        self.admit_where(&self.inner.signer, device, tutors)
    }

    fn admit_where(
        &self,
        by: &Signer,
        device: DeviceId,
        may: impl Fn(&Standing) -> bool,
    ) -> Result<(), Problem> {
        let mut refused = None;
        let lacks = |log: &Standing| may(log) && log.role(device).is_none();
        self.in_every_log(lacks, |log| {
            let step = log?.admit_tutors(by, device);
            Ok(step.map_err(|why| refused = Some(why)).ok())
        })?;
        match refused {
            Some(why) => Err(problem::write(why)),
            None => Ok(()),
        }
    }
}
