//! The data folder of one device: signed changes, blobs and settings, as bytes, encrypted.
//!
//! **May not know:** what bytes mean. No documents, no pupils, no pixels, no network.
//!
//! | in the folder | |
//! |---|---|
//! | `pothook.key` | who holds the database's key, and, unless the keyring does, the key itself, sealed |
//! | `pothook.sqlite` | the database, encrypted as a whole, in write-ahead mode |
//! | `blobs/xx/…` | a file for each blob, sealed under a key of its own |
//! | `pothook.lock` | locked while a process has the folder open |
//!
//! | table | key | holds |
//! |---|---|---|
//! | `changes` | document, sequence number | append-only; a number once taken keeps its bytes |
//! | `blobs` | BLAKE3 of the bytes | length, file, key and cipher of photographs and other large things |
//! | `parts` | BLAKE3 of the whole, first byte | what has come of a blob that is on its way |
//! | `settings` | name | small values |
//!
//! One transaction covers a change, the blobs it speaks of and the settings that go with it: a blob's
//! file is on the disk before its row is, and goes after it. After a power cut either all of them are
//! there or none.
//!
//! What is read is checked: a blob against its name, a change and a setting against the checksum
//! written with it. Whatever fails is reported as [`StoreError::Damaged`], never handed out.
//!
//! Without the key the folder shows how many blobs there are, how long each is, and when files were
//! written; nothing else.

mod aead;
mod backup;
mod blob_files;
mod blobs;
mod changes;
mod disk;
mod error;
mod folder;
mod kdf;
mod key_file;
mod key_place;
mod keyring;
mod keys;
mod open;
mod parts;
mod renew;
mod schema;
mod sealed;
mod secret;
mod settings;
mod store;
mod write;

pub use backup::{BackupReport, RestoredSetting};
pub use blobs::Ready;
pub use disk::{Disk, Step};
pub use error::{BackupError, OpenError, StoreError};
pub use keyring::{Keyring, SystemKeyring};
pub use open::Surroundings;
pub use secret::{Holder, Key, Opener, Passphrase};
pub use store::Store;
pub use write::Write;

/// Most bytes in one blob: 40 MiB.
pub const MAX_BLOB_BYTES: usize = 40 << 20;
/// Most bytes in one change: 4 MiB.
pub const MAX_CHANGE_BYTES: usize = 4 << 20;
/// Most bytes in one setting: 1 MiB.
pub const MAX_SETTING_BYTES: usize = 1 << 20;
/// Most bytes in the name of a document or of a setting.
pub const MAX_NAME_BYTES: usize = 256;
