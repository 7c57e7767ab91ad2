//! One file with all that a device holds, and a new device made from it.

use std::path::Path;

use casefile::Signer;
use store::{BackupReport, Opener, Passphrase, Store, Surroundings};
use units::{Problem, Role};

use crate::App;
use crate::api::{BackUp, BackedUp};
use crate::device::{BEFORE, SECRET};
use crate::problem;

/// Fewest characters of a passphrase for a backup.
const SHORTEST: usize = 10;

impl App {
    /// Writes all that this device holds into one file that only the passphrase opens, and reads it
    /// back.
    ///
    /// # Errors
    /// The passphrase is short, something is there already, or the disk is full.
    pub fn back_up(&self, input: BackUp) -> Result<BackedUp, Problem> {
        if input.passphrase.chars().count() < SHORTEST {
            return Err(Problem::new(
                "passphrase-short",
                "This passphrase is too short.",
                format!(
                    "Use at least {SHORTEST} characters; four unusual words are easy to keep in mind."
                ),
            ));
        }
        let passphrase = Passphrase::new(input.passphrase);
        let report = self.inner.store.backup(Path::new(&input.path), &passphrase);
        report.map(backed_up).map_err(problem::backup)
    }

    /// Reads a backup through and says what is in it.
    ///
    /// # Errors
    /// It is damaged, or the passphrase is another.
    pub fn check_backup(input: &BackUp) -> Result<BackedUp, Problem> {
        let passphrase = Passphrase::new(input.passphrase.clone());
        let report = Store::check_backup(Path::new(&input.path), &passphrase);
        report.map(backed_up).map_err(problem::backup)
    }

    /// Makes a data folder from a backup. It becomes a device of its own, with its own key, so that
    /// nothing it writes can be mistaken for what the device before wrote after the backup. A tutor's
    /// is admitted by the one before when the folder is first opened; a family's has to be paired again.
    ///
    /// # Errors
    /// It is damaged, the passphrase is another, or there is data in the folder.
    pub fn restore(
        file: &Path,
        passphrase: &str,
        folder: &Path,
        opener: &Opener,
    ) -> Result<BackedUp, Problem> {
        let passphrase = Passphrase::new(passphrase.to_owned());
        let report = Store::check_backup(file, &passphrase).map_err(problem::backup)?;
        let around = Surroundings::default();
        // From its first moment on the folder is no device's yet: cut short anywhere, it can never open as
        // the one before.
        let setting = |name: &str| match name {
            SECRET => Some(BEFORE.to_owned()),
            BEFORE => None,
            name => Some(name.to_owned()),
        };
        Store::restore_as(file, &passphrase, folder, opener, &around, &setting)
            .map_err(problem::backup)?;
        Ok(backed_up(report))
    }

    /// A device made from a backup is admitted by the one before wherever that may. Nobody has met it yet.
    pub(crate) fn take_the_place(&self) -> Result<(), Problem> {
        let Some(before) = self.before()? else {
            return Ok(());
        };
        if self.settled()?.role != Role::Tutor {
            return self.forget_before_self();
        }
        if self.admit_self_by(&Signer::from_secret(before))? > 0 {
            self.change_peers(|peers| peers.iter_mut().for_each(|peer| peer.last_met = None))?;
        }
        self.forget_before_self_once_met()
    }

    /// The key of the device that this one was made from, while it is still needed.
    pub(crate) fn before(&self) -> Result<Option<[u8; 32]>, Problem> {
        let kept = self.inner.store.setting(BEFORE).map_err(problem::store)?;
        kept.map(|bytes| {
            let bytes = bytes.try_into();
            bytes.map_err(|_| problem::damaged("the key of the device before"))
        })
        .transpose()
    }

    /// The key of the device before goes once it can bring this one in nowhere any more: all who belong to
    /// something with it have met this device, or it was removed.
    pub(crate) fn forget_before_self_once_met(&self) -> Result<(), Problem> {
        let Some(before) = self.before()? else {
            return Ok(());
        };
        let before = Signer::from_secret(before).device();
        let practice = self.practice_circle().and_then(|(_, log)| log);
        let logs = self.circles().into_iter().map(|(_, log)| log);
        let with = logs.chain(practice);
        let with = with.filter(|log| !log.erased && log.role(before).is_some());
        let met = |device| {
            self.peer(device)
                .is_some_and(|peer| peer.last_met.is_some())
        };
        let all_met = with.flat_map(|log| log.members.keys().copied().collect::<Vec<_>>());
        let mut all_met = all_met.filter(|device| ![before, self.id()].contains(device));
        match all_met.all(met) {
            true => self.forget_before_self(),
            false => Ok(()),
        }
    }

    fn forget_before_self(&self) -> Result<(), Problem> {
        let gone = self.inner.store.remove_setting(BEFORE);
        gone.map_err(problem::store)
    }
}

fn backed_up(report: BackupReport) -> BackedUp {
    BackedUp {
        changes: report.changes as f64,
        blobs: report.blobs as f64,
        bytes: report.bytes as f64,
    }
}
