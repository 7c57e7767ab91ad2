//! The data folder of one device: signed changes, blobs and settings, as bytes.
//!
//! **May not know:** what bytes mean. No documents, no pupils, no pixels, no network.
//!
//! One SQLite database in write-ahead mode holds everything, so that one transaction covers a
//! change, the blobs it speaks of and the settings that go with it: after a power cut either all of
//! them are there or none.
//!
//! | table | key | holds |
//! |---|---|---|
//! | `changes` | document, sequence number | append-only; a number once taken keeps its bytes |
//! | `blobs` | BLAKE3 of the bytes | photographs and other large things |
//! | `settings` | name | small values |
//!
//! What is read is checked: a blob against its name, a change and a setting against the checksum
//! written with it. Whatever fails is reported as [`StoreError::Damaged`], never handed out.
//!
//! Bytes are not encrypted here; the folder and its files are readable by their owner only.

mod blobs;
mod changes;
mod error;
mod folder;
mod schema;
mod settings;
mod store;
mod write;

pub use error::{OpenError, StoreError};
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
