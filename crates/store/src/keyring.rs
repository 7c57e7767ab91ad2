//! The system's keyring, and what stands in for it in a test.

use std::thread;

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
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemKeyring;

/// The name that a keyring's own window shows beside the folder's id.
const SERVICE: &str = "pothook";

impl Keyring for SystemKeyring {
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

/// Asks on a thread of its own: on Linux the question goes over the bus and is waited for, which a
/// thread that runs an asynchronous program must not do.
fn asked<T: Send>(
    name: &str,
    ask: impl FnOnce(&keyring::Entry) -> keyring::Result<T> + Send,
) -> Result<T, String> {
    let question = || {
        if let Err(error) = keyring::Entry::store_status() {
            return Err(error.to_string());
        }
        keyring::Entry::new(SERVICE, name)
            .and_then(|entry| ask(&entry))
            .map_err(|error| error.to_string())
    };
    thread::scope(|scope| scope.spawn(question).join())
        .unwrap_or_else(|_| Err("the keyring's library failed".to_owned()))
}
