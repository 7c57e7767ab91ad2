//! Who belongs: admissions, removals, and the key on paper.

use casefile::{PracticeEdit, Signer, Standing, WriteRefused};
use qrcode::EcLevel;
use units::{DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::{MakePaperKey, Nothing, OfDevice, PaperKey};
use crate::book::append;
use crate::pairing::qr_svg;
use crate::problem;

impl App {
    /// Removes a device: it hears nothing more from this one and those that hear of it, and what it
    /// writes from now on is taken by nobody. What it had, it keeps.
    ///
    /// # Errors
    /// This is not the tutor's device, the device is this one, or there is no such device. Where one log
    /// refuses, because this device does not belong to it any more, it is removed from the others all the
    /// same, and the reason is told.
    pub fn remove_device(&self, input: OfDevice) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let device = input.device;
        if device == self.id() {
            return Err(Problem::new(
                "own-device",
                "This is the device that you are using.",
                "Remove it from another of your devices.",
            ));
        }
        let (mut all, mut refused) = (0, Vec::new());
        let has_it = |log: &Standing| log.role(device).is_some();
        self.in_every_log(has_it, |log| {
            all += 1;
            // One log that takes nothing more is no reason to leave it in the others.
            let step = log.and_then(|log| {
                let removed = log.remove(&self.inner.signer, device);
                removed.map_err(problem::write)
            });
            Ok(step.map_err(|why| refused.push(why)).ok())
        })?;
        if all == 0 {
            return Err(problem::no_such_device());
        }
        self.change_peers(|peers| peers.retain(|peer| peer.device != device))?;
        match refused.first() {
            None => Ok(Nothing {}),
            Some(why) if refused.len() == all => Err(why.clone()),
            Some(why) => Err(problem::removed_in_part(all - refused.len(), all, why)),
        }
    }

    fn remove_from(&self, pupil: PupilId, device: DeviceId) -> Result<(), Problem> {
        self.in_case(pupil, |case, signer| {
            let step = case.remove(signer, device).map_err(problem::write)?;
            Ok(((), vec![append(&step)]))
        })
    }

    /// Admits a family's device to a pupil.
    pub(crate) fn admit_family(
        &self,
        pupil: PupilId,
        device: DeviceId,
        name: &str,
    ) -> Result<(), Problem> {
        self.admit(pupil, device, Role::Parent, &self.inner.signer)?;
        self.name_device(pupil, device, name)
    }

    fn admit(
        &self,
        pupil: PupilId,
        device: DeviceId,
        role: Role,
        by: &Signer,
    ) -> Result<(), Problem> {
        self.in_case(pupil, |case, _| {
            if case.standing().role(device) == Some(role) {
                return Ok(((), Vec::new()));
            }
            let step = case.admit(by, device, role).map_err(problem::write)?;
            Ok(((), vec![append(&step)]))
        })
    }

    fn name_device(&self, pupil: PupilId, device: DeviceId, name: &str) -> Result<(), Problem> {
        let name = name.to_owned();
        let edit = casefile::Edit::NameDevice { device, name };
        self.commit(pupil, vec![edit], Vec::new())
    }

    /// Admits another device of the tutor's to the practice and to every pupil, also where it was removed:
    /// people on both sides have just said so.
    pub(crate) fn admit_tutors(&self, device: DeviceId, name: &str) -> Result<(), Problem> {
        self.begun_practice()?;
        self.in_practice(|practice, signer| {
            if practice.standing().role(device).is_some() {
                return Ok(((), Vec::new()));
            }
            let step = practice.admit(signer, device).map_err(problem::write)?;
            Ok(((), vec![append(&step)]))
        })?;
        self.admit_everywhere(device)?;
        self.level_tutors()?;
        for pupil in self.pupil_ids()? {
            self.name_device(pupil, device, name)?;
        }
        self.sweep()
    }

    /// Brings the logs of all pupils level with the practice's: which devices are the tutor's, and the
    /// paper key. Two laptops may have admitted a third and added a pupil at the same time. The outermost
    /// caller sweeps after it.
    ///
    /// # Errors
    /// The first reason why one log could not be brought level; the others are all the same.
    pub(crate) fn level_tutors(&self) -> Result<(), Problem> {
        let Some((_, Some(tutors))) = self.practice_circle() else {
            return Ok(());
        };
        if tutors.role(self.id()).is_none() {
            return Ok(());
        }
        let listed = self.practice_view()?;
        let mut done = Ok(());
        for (pupil, log) in self.circles() {
            let levelled = if log.erased {
                match listed.pupils.contains(&pupil) || listed.notes.contains_key(&pupil) {
                    true => self.forget_in_practice(pupil),
                    false => Ok(()),
                }
            } else if log.role(self.id()) == Some(Role::Tutor) {
                self.level_tutors_of(pupil, &log, &tutors)
            } else {
                Ok(())
            };
            done = done.and(levelled);
        }
        done
    }

    fn level_tutors_of(
        &self,
        pupil: PupilId,
        log: &Standing,
        tutors: &Standing,
    ) -> Result<(), Problem> {
        let out = |device: &&DeviceId| log.removed.contains_key(device);
        for device in tutors.members.keys().filter(|device| !out(device)) {
            if log.role(*device).is_none() {
                self.admit(pupil, *device, Role::Tutor, &self.inner.signer)?;
            }
        }
        for device in tutors.removed.keys() {
            if log.role(*device) == Some(Role::Tutor) {
                self.remove_from(pupil, *device)?;
            }
        }
        if let Some(&key) = tutors.paper.iter().next().filter(|_| log.paper.is_empty()) {
            self.in_case(pupil, |case, signer| {
                let step = case.name_paper_key(signer, key).map_err(problem::write)?;
                Ok(((), vec![append(&step)]))
            })?;
        }
        Ok(())
    }

    /// Makes the key on paper, which gets the tutor back in when every device is lost. It is shown
    /// once and kept on no device. The practice and all pupils name it at once, or none does.
    ///
    /// # Errors
    /// This is not the tutor's device, there is a key already and it was not handed in, or some pupil
    /// holds to another one.
    pub fn make_paper_key(&self, input: MakePaperKey) -> Result<PaperKey, Problem> {
        self.only(Role::Tutor)?;
        self.begun_practice()?;
        let practice = self.practice_circle().and_then(|(_, log)| log);
        if practice.is_none_or(|log| log.role(self.id()).is_none()) {
            return Err(problem::write(WriteRefused::NotAMember));
        }
        let before = input.before.as_deref().map(read_paper_key).transpose()?;
        let secret = self.random::<32>()?;
        let key = Signer::from_secret(secret).device();
        self.name_paper_everywhere(key, before.as_ref())?;
        let text = sync::pairing::to_text(&secret);
        let qr_svg = qr_svg(&text, EcLevel::Q)?;
        Ok(PaperKey { text, qr_svg })
    }

    /// Comes back to a pupil by the key on paper, once the log has arrived from a family's device. The
    /// practice has the same key from then on, or the pupil that of the practice where there is one.
    pub(crate) fn come_back(&self, pupil: PupilId, paper: &Signer) -> Result<(), Problem> {
        let key = paper.device();
        if self.standing(pupil).is_some_and(|log| log.erased) {
            // There is nothing to come back to; who asked has heard of that.
            return Ok(());
        }
        self.admit(pupil, self.id(), Role::Tutor, paper)?;
        self.begin_practice_under(Some(key))?;
        let practices = self.in_practice(|practice, signer| {
            let mut steps = Vec::new();
            if practice.standing().role(self.id()).is_none() {
                steps.push(practice.admit(paper, self.id()));
            }
            if practice.standing().paper.is_empty() {
                steps.push(practice.name_paper_key(signer, key));
            }
            if !practice.view().pupils.contains(&pupil) {
                steps.push(practice.write(signer, PracticeEdit::AddPupil(pupil)));
            }
            let steps = steps.into_iter().collect::<Result<Vec<_>, _>>();
            let writes = steps.map_err(problem::write)?.iter().map(append).collect();
            Ok((practice.standing().paper.clone(), writes))
        })?;
        match practices.iter().next() {
            Some(&other) if !practices.contains(&key) => self.in_case(pupil, |case, _| {
                let step = case.name_paper_key(paper, other).map_err(problem::write)?;
                Ok(((), vec![append(&step)]))
            }),
            _ => Ok(()),
        }
    }
}

/// The signer of a key as it stands on paper.
pub(crate) fn read_paper_key(text: &str) -> Result<Signer, Problem> {
    Ok(Signer::from_secret(paper_secret(text)?))
}

/// The key as it stands on paper.
pub(crate) fn paper_secret(text: &str) -> Result<[u8; 32], Problem> {
    let bytes = sync::pairing::from_text(text).map_err(|error| problem::code(&error))?;
    bytes.try_into().map_err(|_| {
        Problem::new(
            "not-a-paper-key",
            "This is not a paper key.",
            "Type the whole key as it stands on the paper.",
        )
    })
}
