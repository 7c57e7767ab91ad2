//! The system's keyring, and what stands in for it in a test.

use std::sync::{Arc, LazyLock, Mutex, mpsc};
use std::thread;
use std::time::Duration;

use zeroize::Zeroizing;

use crate::store::locked;

/// A place that keeps small secrets by name, and opens when a person logs in.
pub trait Keyring: Send + Sync {
    /// The secret of this name; `None` if there is none.
    ///
    /// # Errors
    /// Why the keyring cannot be asked, in the system's words. The same for the others.
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String>;
    /// Keeps a secret, in place of any that is there.
    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String>;
    /// Removes a secret; one that is not there is no error.
    fn remove(&self, name: &str) -> Result<(), String>;
}

/// Secret Service on Linux, Keychain on macOS, Credential Manager on Windows.
///
/// Waited for at most a minute: time to type the password that unlocks it. A keyring that has asked for one
/// where nobody looks fails until it has answered.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemKeyring;

/// One for the whole process, so that no two folders ask out of turn.
static SYSTEM: LazyLock<Patient<System>> =
    LazyLock::new(|| Patient::new(System, Duration::from_secs(60)));

impl Keyring for SystemKeyring {
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
        SYSTEM.get(name)
    }

    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String> {
        SYSTEM.set(name, secret)
    }

    fn remove(&self, name: &str) -> Result<(), String> {
        SYSTEM.remove(name)
    }
}

/// A keyring that is waited for no longer than a while.
///
/// Each question has a thread of its own: on Linux it goes over the bus and is waited for, which a thread
/// that runs an asynchronous program must not do. One that was given up may be answered all the same, when
/// a person unlocks the keyring an hour later; until then no other is asked, so that a late answer never
/// undoes what came after it.
pub(crate) struct Patient<K> {
    keyring: Arc<K>,
    patience: Duration,
    /// The question that was given up.
    given_up: Mutex<Option<thread::JoinHandle<()>>>,
}

impl<K: Keyring + 'static> Patient<K> {
    pub(crate) fn new(keyring: K, patience: Duration) -> Self {
        Self {
            keyring: Arc::new(keyring),
            patience,
            given_up: Mutex::default(),
        }
    }

    fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&K) -> Result<T, String> + Send + 'static,
    ) -> Result<T, String> {
        // Whoever comes second waits for the first, which is not long.
        let mut given_up = locked(&self.given_up);
        if given_up.as_ref().is_some_and(|asked| !asked.is_finished()) {
            return Err("it has not answered an earlier question yet".to_owned());
        }
        let (tell, answer) = mpsc::channel();
        let keyring = Arc::clone(&self.keyring);
        let asked = thread::Builder::new().spawn(move || {
            // Nobody hears an answer that comes too late.
            let _ = tell.send(question(&keyring));
        });
        let asked = asked.map_err(|error| error.to_string())?;
        match answer.recv_timeout(self.patience) {
            Ok(answer) => answer,
            Err(mpsc::RecvTimeoutError::Disconnected) => {
                Err("the keyring's library failed".to_owned())
            }
            Err(mpsc::RecvTimeoutError::Timeout) => {
                *given_up = Some(asked);
                Err("it does not answer".to_owned())
            }
        }
    }
}

impl<K: Keyring + 'static> Keyring for Patient<K> {
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
        let name = name.to_owned();
        self.ask(move |keyring| keyring.get(&name))
    }

    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String> {
        let (name, secret) = (name.to_owned(), Zeroizing::new(secret.to_vec()));
        self.ask(move |keyring| keyring.set(&name, &secret))
    }

    fn remove(&self, name: &str) -> Result<(), String> {
        let name = name.to_owned();
        self.ask(move |keyring| keyring.remove(&name))
    }
}

/// The system's own, which may never answer.
struct System;

/// The name that a keyring's own window shows beside the folder's id.
const SERVICE: &str = "pothook";

impl Keyring for System {
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
        asked(name, |entry| match entry.get_secret() {
            Ok(secret) => Ok(Some(secret)),
            Err(keyring::Error::NoEntry) => Ok(None),
            Err(error) => Err(error),
        })
    }

    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String> {
        asked(name, |entry| entry.set_secret(secret))
    }

    fn remove(&self, name: &str) -> Result<(), String> {
        asked(name, |entry| match entry.delete_credential() {
            Err(keyring::Error::NoEntry) => Ok(()),
            answer => answer,
        })
    }
}

fn asked<T>(
    name: &str,
    ask: impl FnOnce(&keyring::Entry) -> keyring::Result<T>,
) -> Result<T, String> {
    if let Err(error) = keyring::Entry::store_status() {
        return Err(error.to_string());
    }
    keyring::Entry::new(SERVICE, name)
        .and_then(|entry| ask(&entry))
        .map_err(|error| error.to_string())
}
