//! One file with all that a device holds, and a new device made from it.

use std::path::Path;

use casefile::{CaseFile, PracticeBook, Signer};
use store::{BackupReport, Opener, Passphrase, Store, Write};
use units::{Problem, Role};

use crate::App;
use crate::api::{BackUp, BackedUp};
use crate::book::append;
use crate::device::{BEFORE, SECRET, SETTLED, Settled, random, read_setting};
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
    /// is admitted by the one before; a family's has to be paired again.
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
        let store = Store::restore(file, &passphrase, folder, opener).map_err(problem::backup)?;
        become_new(&store)?;
        Ok(backed_up(report))
    }
}

/// A new key in the place of the old one, and the new device admitted by the old where that may.
fn become_new(store: &Store) -> Result<(), Problem> {
    let Some(old) = store.setting(SECRET).map_err(problem::store)? else {
        return Ok(());
    };
    let bytes: [u8; 32] = old
        .try_into()
        .map_err(|_| problem::damaged("the device's key"))?;
    let (old, secret) = (Signer::from_secret(bytes), random::<32>()?);
    let new = Signer::from_secret(secret).device();
    let key = |name: &str, bytes: [u8; 32]| Write::Setting {
        name: name.to_owned(),
        bytes: bytes.to_vec(),
    };
    let mut writes = vec![key(SECRET, secret), key(BEFORE, bytes)];
    let settled: Option<Settled> = read_setting(store, SETTLED)?;
    if settled.is_some_and(|settled| settled.role == Role::Tutor) {
        for (id, log) in crate::cases::logs(store)? {
            let mut case = CaseFile::of_kept(id, log.clone());
            if case.standing().role(old.device()) != Some(Role::Tutor) || case.standing().erased {
                continue;
            }
            let practice = case.standing().circle == Some(casefile::CircleKind::Practice);
            let step = match practice {
                true => PracticeBook::of_kept(id, log).admit(&old, new),
                false => case.admit(&old, new, Role::Tutor),
            };
            writes.push(append(&step.map_err(problem::write)?));
        }
    }
    store.transaction(writes).map_err(problem::store)
}

fn backed_up(report: BackupReport) -> BackedUp {
    BackedUp {
        changes: report.changes as f64,
        blobs: report.blobs as f64,
        bytes: report.bytes as f64,
    }
}
