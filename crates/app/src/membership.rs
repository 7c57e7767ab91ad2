//! Who belongs: admissions, removals, and the key on paper.

use casefile::{PracticeEdit, Signer, Standing};
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
    /// This is not the tutor's device, the device is this one, or there is no such device.
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
        let mut found = false;
        let practice = self.practice_circle().and_then(|(_, log)| log);
        if practice.is_some_and(|log| log.role(device).is_some()) {
            found = true;
            self.in_practice(|practice, signer| {
                let step = practice.remove(signer, device).map_err(problem::write)?;
                Ok(((), vec![append(&step)]))
            })?;
        }
        for (pupil, log) in self.circles() {
            if log.role(device).is_some() && !log.erased {
                found = true;
                self.remove_from(pupil, device)?;
            }
        }
        if !found {
            return Err(problem::no_such_device());
        }
        self.change_peers(|peers| peers.retain(|peer| peer.device != device))?;
        Ok(Nothing {})
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

    /// Admits another device of the tutor's to the practice and to every pupil.
    pub(crate) fn admit_tutors(&self, device: DeviceId, name: &str) -> Result<(), Problem> {
        self.begun_practice()?;
        self.in_practice(|practice, signer| {
            if practice.standing().role(device).is_some() {
                return Ok(((), Vec::new()));
            }
            let step = practice.admit(signer, device).map_err(problem::write)?;
            Ok(((), vec![append(&step)]))
        })?;
        self.level_tutors()?;
        for pupil in self.pupil_ids()? {
            self.name_device(pupil, device, name)?;
        }
        Ok(())
    }

    /// Brings the logs of all pupils level with the practice's: which devices are the tutor's, and the
    /// paper key. Two laptops may have admitted a third and added a pupil at the same time.
    pub(crate) fn level_tutors(&self) -> Result<(), Problem> {
        let Some((_, Some(tutors))) = self.practice_circle() else {
            return Ok(());
        };
        if tutors.role(self.id()).is_none() {
            return Ok(());
        }
        let mut erased = Vec::new();
        for (pupil, log) in self.circles() {
            if log.erased {
                erased.push(pupil);
                continue;
            }
            if log.role(self.id()) == Some(Role::Tutor) {
                self.level_tutors_of(pupil, &log, &tutors)?;
            }
        }
        let listed = self.practice_view()?;
        for pupil in erased {
            if listed.pupils.contains(&pupil) || listed.notes.contains_key(&pupil) {
                self.forget_in_practice(pupil)?;
            }
        }
        Ok(())
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
    /// once and kept on no device.
    ///
    /// # Errors
    /// This is not the tutor's device, or there is a key already and it was not handed in.
    pub fn make_paper_key(&self, input: MakePaperKey) -> Result<PaperKey, Problem> {
        self.only(Role::Tutor)?;
        self.begun_practice()?;
        let before = input.before.as_deref().map(read_paper_key).transpose()?;
        let Some((_, Some(tutors))) = self.practice_circle() else {
            return Err(problem::no_practice());
        };
        let held = |key: &Signer| tutors.paper.contains(&key.device());
        if !tutors.paper.is_empty() && !before.as_ref().is_some_and(held) {
            return Err(Problem::new(
                "paper-key-there",
                "There is a paper key already.",
                "Type the key that is on the paper; then a new one takes its place.",
            ));
        }
        let secret = self.random::<32>()?;
        let key = Signer::from_secret(secret).device();
        let by = before.as_ref().unwrap_or(&self.inner.signer);
        self.in_practice(|practice, _| {
            let step = practice.name_paper_key(by, key).map_err(problem::write)?;
            Ok(((), vec![append(&step)]))
        })?;
        for (pupil, log) in self.circles() {
            if log.erased || log.role(self.id()) != Some(Role::Tutor) {
                continue;
            }
            self.in_case(pupil, |case, _| {
                let step = case.name_paper_key(by, key).map_err(problem::write)?;
                Ok(((), vec![append(&step)]))
            })?;
        }
        let text = sync::pairing::to_text(&secret);
        let qr_svg = qr_svg(&text, EcLevel::Q)?;
        Ok(PaperKey { text, qr_svg })
    }

    /// Comes back to a pupil by the key on paper, once the log has arrived from a family's device.
    pub(crate) fn come_back(&self, pupil: PupilId, paper: &Signer) -> Result<(), Problem> {
        self.admit(pupil, self.id(), Role::Tutor, paper)?;
        self.begun_practice()?;
        self.in_practice(|practice, signer| {
            if practice.view().pupils.contains(&pupil) {
                return Ok(((), Vec::new()));
            }
            let edit = PracticeEdit::AddPupil(pupil);
            let change = practice.write(signer, edit).map_err(problem::write)?;
            Ok(((), vec![append(&change)]))
        })
    }
}

/// The signer of a key as it stands on paper.
pub(crate) fn read_paper_key(text: &str) -> Result<Signer, Problem> {
    let bytes = sync::pairing::from_text(text).map_err(|error| problem::code(&error))?;
    let secret = bytes.try_into().map_err(|_| {
        Problem::new(
            "not-a-paper-key",
            "This is not a paper key.",
            "Type the whole key as it stands on the paper.",
        )
    })?;
    Ok(Signer::from_secret(secret))
}
