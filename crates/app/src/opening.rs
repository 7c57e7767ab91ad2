//! Opening the data folder, and who may.

mod key_file;

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex};

use casefile::Signer;
use store::{Holder, OpenError, Opener, Passphrase, Store, Surroundings, Write};
use tokio::sync::broadcast;
use units::Problem;

use crate::api::{Notice, OpenedBy};
use crate::cases::Cases;
use crate::device::{Chance, Inner, SECRET, SETTLED, read_setting, system_chance, system_clock};
use crate::pairing::Stage;
use crate::{App, Clock, problem};

/// Which data folder, and how it is opened.
pub struct Opening {
    /// The folder; made where there is none.
    pub folder: PathBuf,
    /// What opens it.
    pub opener: Opener,
    /// Tells the time.
    pub clock: Clock,
    /// Gives the random bytes of ids.
    pub chance: Chance,
    /// The disk and the keyring; a test hands in its own.
    pub around: Surroundings,
}

impl Opening {
    /// A folder opened by this, with the system's clock, disk and keyring.
    pub fn new(folder: &Path, opener: Opener) -> Self {
        Self {
            folder: folder.to_owned(),
            opener,
            clock: Arc::new(system_clock),
            chance: Arc::new(system_chance),
            around: Surroundings::default(),
        }
    }

    /// A folder opened by a key file, with the system's clock, disk and keyring. Where there is neither, the
    /// key is made.
    ///
    /// # Errors
    /// There is data in the folder and no such file, which may lie on a drive that is not connected: no key
    /// is made that could not open it. The folder holds something else. As [`key_file`].
    pub fn with_key_file(folder: &Path, path: &Path) -> Result<Self, Problem> {
        let opener = match Store::locked_by(folder).map_err(problem::open)? {
            None => key_file(path)?,
            Some(Holder::Key) => key_file::of_data(path)?,
            Some(holder) => return Err(problem::open(OpenError::Unlike(holder))),
        };
        Ok(Self::new(folder, opener))
    }
}

/// One thing that a start brings to its end.
type Step = fn(&App) -> Result<(), Problem>;

impl App {
    /// Opens the data folder, making it where there is none.
    ///
    /// # Errors
    /// The folder is in use by another process, is locked otherwise, cannot be written, or holds
    /// something else.
    pub fn open(folder: &Path, opener: Opener) -> Result<Self, Problem> {
        Self::open_with(Opening::new(folder, opener))
    }

    /// Opens the data folder in surroundings of the caller's.
    ///
    /// # Errors
    /// As [`App::open`].
    pub fn open_with(opening: Opening) -> Result<Self, Problem> {
        let Opening {
            folder,
            opener,
            clock,
            chance,
            around,
        } = opening;
        let store = Store::open_in(&folder, &opener, &around);
        let store = store.map_err(|error| closed(error, &folder, &opener))?;
        let secret = match store.setting(SECRET).map_err(problem::store)? {
            Some(bytes) => bytes
                .try_into()
                .map_err(|_| problem::damaged("this device's key"))?,
            None => {
                let mut secret = [0; 32];
                chance(&mut secret)?;
                let mut writes = vec![Write::Setting {
                    name: SECRET.to_owned(),
                    bytes: secret.to_vec(),
                }];
                // One made from a backup brings along what was said of its blobs.
                if store.blobs().map_err(problem::store)?.is_empty() {
                    writes.push(crate::cases::assigned());
                }
                store.transaction(writes).map_err(problem::store)?;
                secret
            }
        };
        let settled = read_setting(&store, SETTLED)?;
        let peers = crate::peers::read(&store)?;
        let cases = Cases::read(&store)?;
        let (events, _) = broadcast::channel(256);
        let app = Self {
            inner: Arc::new(Inner {
                store,
                clock,
                chance,
                secret,
                signer: Signer::from_secret(secret),
                settled: Mutex::new(settled),
                cases: Mutex::new(cases),
                peers: Mutex::new(peers),
                looked: Mutex::default(),
                rereading: Mutex::default(),
                drafting: Mutex::default(),
                reminds: AtomicBool::new(false),
                stopping: tokio::sync::Notify::new(),
                noticing: Mutex::default(),
                sweeping: Mutex::default(),
                damaged: Mutex::default(),
                thumbs: Mutex::default(),
                cut: Mutex::default(),
                node: tokio::sync::Mutex::new(None),
                pairing: Mutex::new(Stage::Idle),
                events,
            }),
        };
        app.take_up();
        Ok(app)
    }

    /// What was cut off when the program last ended is brought to its end. Whatever stands against that,
    /// such as a full disk, must not lock anybody out: it is told, and tried again at the next start.
    pub(crate) fn take_up(&self) {
        if self.settled().is_err() {
            return;
        }
        let steps: [Step; 4] = [
            Self::assign_blobs,
            Self::take_the_place,
            Self::level_tutors,
            Self::sweep,
        ];
        for step in steps {
            if let Err(problem) = step(self) {
                // On a full disk nothing can be told either.
                let _ = self.notice_once(Notice::Unfinished { problem });
            }
        }
    }

    /// Whose key opens a folder, without opening it; `None` where there is nothing yet.
    ///
    /// # Errors
    /// The folder holds something else.
    pub fn opened_with(folder: &Path) -> Result<Option<OpenedBy>, Problem> {
        let holder = Store::locked_by(folder).map_err(problem::open)?;
        Ok(holder.map(opened_by))
    }

    pub(crate) fn opened_by(&self) -> OpenedBy {
        opened_by(self.inner.store.holder())
    }
}

/// Why a folder was not opened, to whoever has this opener.
fn closed(error: OpenError, folder: &Path, opener: &Opener) -> Problem {
    match error {
        OpenError::WrongKey if opener.holder() == Holder::Key => key_file::is_another(),
        // Nobody who has data here is to choose a new passphrase.
        OpenError::NoKeyring(reason) if matches!(Store::locked_by(folder), Ok(Some(_))) => {
            Problem::new(
                "keyring-silent",
                format!("The system's keyring does not give the key of your data ({reason})."),
                "Unlock the keyring, or log in to the system as usual, and try again. Nothing is lost.",
            )
        }
        error => problem::open(error),
    }
}

fn opened_by(holder: Holder) -> OpenedBy {
    match holder {
        Holder::Keyring => OpenedBy::Keyring,
        Holder::Passphrase => OpenedBy::Passphrase,
        Holder::Key => OpenedBy::KeyFile,
    }
}

/// What a person typed as a passphrase.
///
/// # Errors
/// It is shorter than 8 characters: then it is made for a folder that is new.
pub fn passphrase(text: &str, new: bool) -> Result<Opener, Problem> {
    const SHORTEST: usize = 8;
    if new && text.chars().count() < SHORTEST {
        return Err(Problem::new(
            "passphrase-short",
            "This passphrase is too short.",
            format!(
                "Use at least {SHORTEST} characters; three unusual words are easy to keep in mind."
            ),
        ));
    }
    Ok(Opener::Passphrase(Passphrase::new(text.to_owned())))
}

/// The key in a key file: 32 bytes, made where there is no file yet. For a folder that may hold data already
/// see [`Opening::with_key_file`].
///
/// # Errors
/// The file cannot be read or written, or is of another length.
pub fn key_file(path: &Path) -> Result<Opener, Problem> {
    key_file::made(path)
}
