//! Opening the data folder, and who may.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex};

use casefile::Signer;
use store::{Holder, Key, Opener, Passphrase, Store, Surroundings, Write};
use tokio::sync::broadcast;
use units::Problem;

use crate::api::{Notice, OpenedBy};
use crate::cases::Cases;
use crate::device::{
    Chance, Inner, SECRET, SETTLED, random, read_setting, system_chance, system_clock,
};
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
        let store = Store::open_in(&folder, &opener, &around).map_err(problem::open)?;
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
                waits: Mutex::new(BTreeMap::new()),
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

/// The key in a key file: 32 bytes, made where there is no file yet.
///
/// # Errors
/// The file cannot be read or written, or is of another length.
pub fn key_file(path: &Path) -> Result<Opener, Problem> {
    let unusable = |reason: String| {
        Problem::new(
            "key-file-unusable",
            format!("The key file {} cannot be used ({reason}).", path.display()),
            "Name a file of 32 random bytes, or one that does not exist yet.",
        )
    };
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            let made = write_private(path, &random::<32>()?);
            let made = made.and_then(|()| std::fs::read(path));
            made.map_err(|error| unusable(error.to_string()))?
        }
        Err(error) => return Err(unusable(error.to_string())),
    };
    let key = bytes
        .try_into()
        .map_err(|_| unusable("it has not 32 bytes".to_owned()))?;
    Ok(Opener::Key(Key::new(key)))
}

/// Makes a file that only its owner reads, whole from the start: of two programs that make it at the same
/// time one does, and both then read the same.
fn write_private(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    use std::io::Write;
    let beside = path.with_extension(format!("{}.new", std::process::id()));
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    let made = std::fs::hard_link(&beside, path);
    std::fs::remove_file(&beside)?;
    match made {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        other => other,
    }
}
