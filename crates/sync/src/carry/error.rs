//! One error for each operation.

use std::io;

use thiserror::Error;
use units::{BlobId, DeviceId};

/// A parcel of which no files could be made.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum SealError {
    /// It is for nobody.
    #[error("the parcel is for no device")]
    NoRecipient,
    /// A device's name is no key that can be encrypted to.
    #[error("nothing can be encrypted for the device {0}")]
    NoKey(DeviceId),
    /// More of something than a parcel holds.
    #[error("too many {what}: {count} where {most} are the most")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// How many there are.
        count: usize,
        /// How many there may be.
        most: usize,
    },
    /// Something is longer than it may be.
    #[error("a {what} is too large: {bytes} bytes where {most} are the most")]
    TooLarge {
        /// What it is.
        what: &'static str,
        /// Its length.
        bytes: usize,
        /// The longest that it may be.
        most: usize,
    },
    /// A blob's bytes do not hash to its name.
    #[error("the bytes of the blob {0} are not those of its name")]
    WrongBlob(BlobId),
    /// Something that cannot be split does not fit into one file.
    #[error("files of {limit} bytes are too small: {needed} are needed")]
    PartTooSmall {
        /// The limit asked for.
        limit: u64,
        /// The limit that would do for the first thing that did not fit.
        needed: u64,
    },
}

/// A file that is not taken. Nothing of it was handed out.
#[derive(Debug, Error)]
pub enum OpenError {
    /// The file could not be read.
    #[error("the file could not be read: {0}")]
    Read(#[source] io::Error),
    /// It is no carry file at all, or one for a passphrase.
    #[error("this is not a carry file")]
    NotPost,
    /// It was made by a newer version.
    #[error("the file was made by a newer version: update this device")]
    Newer,
    /// It is larger than a carry file may be, or for more devices.
    #[error("the file is larger than a carry file may be: {what}")]
    TooLarge {
        /// What is too large.
        what: &'static str,
    },
    /// It is encrypted for other devices.
    #[error("the file is not for this device")]
    Foreign,
    /// The file's end is missing.
    #[error("the file is cut off: its end is missing")]
    Cut,
    /// It was changed on the way. Where a file is cut off within its first 64 KiB, that
    /// cannot be told apart.
    #[error("the file is damaged or incomplete")]
    Damaged,
    /// What is inside is not what the device signed from which it is said to come.
    #[error("the file does not come from the device that it names")]
    Forged,
    /// The sender made it for other devices; one of them, or somebody else, encrypted it
    /// anew for this one.
    #[error("the file was made for other devices and passed on")]
    PassedOn {
        /// The device that signed it.
        from: DeviceId,
    },
    /// The sender does not belong to the scope.
    #[error("the file comes from a device that does not belong here: {from}")]
    Stranger {
        /// The device that signed it.
        from: DeviceId,
    },
    /// The sender signed something that no carry file may hold.
    #[error("the device {from} made a file that cannot be right: {what}")]
    Malformed {
        /// The device that signed it.
        from: DeviceId,
        /// What is wrong.
        what: &'static str,
    },
}
