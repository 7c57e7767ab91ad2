//! One file with all that a device holds, and a new device made from it.

use std::path::Path;

use casefile::Signer;
use store::{BackupReport, Opener, Passphrase, Store, Surroundings, Write};
use units::{Problem, Role};

use crate::App;
use crate::api::{BackUp, BackedUp, BringBack, Event, Nothing, Overview};
use crate::cases::{Cases, is_owed};
use crate::device::{BEFORE, SECRET, SETTLED, locked, read_setting};
use crate::peers::{PEERS, met_by_none};
use crate::problem;
use crate::staging::{PHOTO_WAITS, whose_photo};

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
        Store::restore_as(file, &passphrase, folder, opener, &around, &restored)
            .map_err(problem::backup)?;
        Ok(backed_up(report))
    }

    /// Brings a backup into this device, which is nobody's yet: all of it, or nothing. It keeps its own key,
    /// and is from then on as one made by [`App::restore`].
    ///
    /// # Errors
    /// The backup is damaged, the passphrase is another, this device is somebody's already, or the disk is
    /// full.
    pub fn bring_back(&self, input: BringBack) -> Result<Overview, Problem> {
        let inner = &self.inner;
        {
            // Held to the end, so that it is not set up for somebody meanwhile. While it is nobody's, no holder
            // of the cases asks whose it is.
            let mut settled = locked(&inner.settled);
            if settled.is_some() {
                return Err(Problem::new(
                    "already-settled",
                    "This device is set up already.",
                    "Bring the backup back on a device, or in a data folder, that is new.",
                ));
            }
            let passphrase = Passphrase::new(input.passphrase);
            let file = Path::new(&input.path);
            let store = &inner.store;
            let brought = store.take_in(file, &passphrase, SECRET, &restored);
            brought.map_err(problem::backup)?;
            *locked(&inner.peers) = crate::peers::read(store)?;
            *locked(&inner.cases) = Cases::read(store)?;
            *settled = read_setting(store, SETTLED)?;
        }
        self.take_up();
        self.tell(Event::Changed { pupil: None });
        self.overview(Nothing {})
    }

    /// A device made from a backup is admitted by the one before wherever that may.
    pub(crate) fn take_the_place(&self) -> Result<(), Problem> {
        let before = self.before()?;
        if before.is_empty() {
            return Ok(());
        }
        if self.settled()?.role != Role::Tutor {
            return self.forget_before_self();
        }
        let mut done = Ok(());
        for secret in before {
            let admitted = self.admit_self_by(&Signer::from_secret(secret));
            done = done.and(admitted);
        }
        done?;
        self.forget_before_self_once_met()
    }

    /// The keys of the devices that this one was made from, the last of them first, while they are still
    /// needed.
    pub(crate) fn before(&self) -> Result<Vec<[u8; 32]>, Problem> {
        let store = &self.inner.store;
        let names = store.settings_under(BEFORE).map_err(problem::store)?;
        let keys = names.iter().filter_map(|name| {
            let bytes = store.setting(name).map_err(problem::store).transpose()?;
            let damaged = |_| problem::damaged("the key of the device before");
            Some(bytes.and_then(|bytes| bytes.try_into().map_err(damaged)))
        });
        keys.collect()
    }

    /// The keys of the devices before go once they can bring this one in nowhere any more: it belongs to
    /// everything that one of them belongs to, or was removed from it, and all others who belong there have
    /// met it.
    pub(crate) fn forget_before_self_once_met(&self) -> Result<(), Problem> {
        let before = self.before()?.into_iter();
        let before: Vec<_> = before
            .map(|key| Signer::from_secret(key).device())
            .collect();
        if before.is_empty() {
            return Ok(());
        }
        let mine = self.id();
        let practice = self.practice_circle().and_then(|(_, log)| log);
        let logs = self.circles().into_iter().map(|(_, log)| log);
        let mut with = logs.chain(practice).filter(|log| {
            let one_before = before.iter().any(|device| log.role(*device).is_some());
            one_before && !log.erased
        });
        let met = |device| {
            self.peer(device)
                .is_some_and(|peer| peer.last_met.is_some())
        };
        let is_done = with.all(|log| {
            let here = log.role(mine).is_some() || log.removed.contains_key(&mine);
            let others = log.members.keys().copied();
            let mut others = others.filter(|device| *device != mine && !before.contains(device));
            here && others.all(met)
        });
        match is_done {
            true => self.forget_before_self(),
            false => Ok(()),
        }
    }

    fn forget_before_self(&self) -> Result<(), Problem> {
        let store = &self.inner.store;
        let names = store.settings_under(BEFORE).map_err(problem::store)?;
        let gone = names.into_iter().map(Write::RemoveSetting).collect();
        store.transaction(gone).map_err(problem::store)
    }
}

/// A setting as it comes back from a backup. The device that it comes back on is a new one, which nobody has met.
fn restored(name: &str, bytes: &[u8]) -> Option<(String, Vec<u8>)> {
    let bytes = match name {
        PEERS => met_by_none(bytes).unwrap_or_else(|| bytes.to_vec()),
        _ => bytes.to_vec(),
    };
    Some((restored_name(name)?, bytes))
}

/// The name under which a setting comes back from a backup: the device's own key becomes that of the device
/// before, and that one's that of the one before it. `None` where it does not come back.
fn restored_name(name: &str) -> Option<String> {
    /// Most devices before: each was made from a backup of the next, which had not met everybody yet.
    const MOST: usize = 16;
    match name {
        SECRET => Some(BEFORE.to_owned()),
        // It waited on the one device alone, where it may have been kept or let go since. Its picture goes when
        // the disk is cleaned, which is owed now.
        name if name.starts_with(PHOTO_WAITS) => whose_photo(name).map(is_owed),
        name if name.starts_with(BEFORE) => {
            let before = name.matches("/before").count();
            (before < MOST).then(|| format!("{name}/before"))
        }
        name => Some(name.to_owned()),
    }
}

fn backed_up(report: BackupReport) -> BackedUp {
    BackedUp {
        changes: report.changes as f64,
        blobs: report.blobs as f64,
        bytes: report.bytes as f64,
    }
}
