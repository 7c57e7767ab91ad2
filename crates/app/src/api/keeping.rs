//! Backups, exports and carry files.

use units::{DeviceId, PupilId};

use super::transfer;

transfer! {
    /// Writes all that this device holds into one encrypted file.
    #[derive(Eq)]
    pub struct BackUp {
        /// Where; nothing may be there yet.
        pub path: String,
        /// What opens it.
        pub passphrase: String,
    }

    /// A backup, as written or as checked.
    pub struct BackedUp {
        /// Changes in it.
        pub changes: f64,
        /// Pictures and whole readings in it.
        pub blobs: f64,
        /// Size of the file in bytes.
        pub bytes: f64,
    }

    /// Brings a backup into a device that is nobody's yet.
    #[derive(Eq)]
    pub struct BringBack {
        /// Where the backup is.
        pub path: String,
        /// What opens it.
        pub passphrase: String,
    }

    /// Makes carry files about a pupil: for all other devices that belong, or for one.
    #[derive(Copy, Eq)]
    pub struct MakeCarry {
        /// Which pupil.
        pub pupil: PupilId,
        /// For one device only.
        pub to: Option<DeviceId>,
        /// Most bytes of one file; what does not fit is split.
        pub part_bytes: Option<u32>,
    }

    /// Carry files that were made.
    pub struct CarryMade {
        /// In the order in which they are best sent; any order will do.
        pub files: Vec<CarryFile>,
    }

    /// One carry file.
    pub struct CarryFile {
        /// A name for it that tells nothing of the pupil.
        pub name: String,
        /// Its bytes, base64 (RFC 4648).
        pub base64: String,
    }

    /// Opens a carry file.
    #[derive(Eq)]
    pub struct OpenCarry {
        /// Its bytes, base64 (RFC 4648).
        pub base64: String,
    }

    /// What a carry file brought.
    pub struct CarryOpened {
        /// The device that made it.
        pub from: DeviceId,
        /// The pupil.
        pub pupil: PupilId,
        /// Which of several it is, from 1.
        pub part: u32,
        /// How many there are.
        pub parts: u32,
        /// Changes that were new.
        pub new_changes: u32,
        /// Changes that were refused.
        pub refused_changes: u32,
        /// Pictures and whole readings that were new.
        pub new_blobs: u32,
        /// Whether something in it rests on what has not come yet: another file, or an earlier one.
        pub waits: bool,
    }
}
