//! What the rooms say went wrong, in plain words.

mod meeting;
mod photograph;

use casefile::WriteRefused;
use store::{BackupError, Holder, OpenError, StoreError};
use sync::carry;
use units::Problem;

pub(crate) use self::meeting::{
    code, exchange, pair, pairing_does_not_fit, relay, start, words_differ,
};
pub(crate) use self::photograph::{decode, page, stopped, unfit};

const UPDATE: &str = "Update the program on this device.";
const TRY_LATER: &str = "Nothing is lost. Try again in a while.";

/// The data folder could not be opened.
pub(crate) fn open(error: OpenError) -> Problem {
    match error {
        OpenError::InUse => Problem::new(
            "data-in-use",
            "This data folder is open in another window or program.",
            "Close the other one first, or use another data folder.",
        ),
        OpenError::NotADatabase => Problem::new(
            "not-ours",
            "This folder holds something else, not data of this program.",
            "Choose another data folder.",
        ),
        OpenError::Newer { .. } => Problem::new(
            "data-newer",
            "This data folder was written by a newer version of the program.",
            UPDATE,
        ),
        OpenError::Old => Problem::new(
            "data-old",
            "This data folder was written by a first trial version, which did not encrypt it.",
            "Choose another data folder. What is in this one was not changed.",
        ),
        OpenError::WrongKey => Problem::new(
            "wrong-passphrase",
            "This does not open the data of this device.",
            "Try again. Capital letters and spaces count.",
        ),
        OpenError::Unlike(Holder::Keyring) => Problem::new(
            "keyring-needed",
            "The system's keyring holds the key of this data folder.",
            "Start the program without a passphrase or key file, logged in as usual.",
        ),
        OpenError::Unlike(Holder::Passphrase) => Problem::new(
            "passphrase-needed",
            "The data of this device is locked.",
            "Type the passphrase.",
        ),
        OpenError::Unlike(Holder::Key) => Problem::new(
            "key-file-needed",
            "The data of this device is locked by a key file.",
            "Start the program with --key-file and that file.",
        ),
        OpenError::NoKeyring(_) => Problem::new(
            "no-keyring",
            "This system has no keyring that could hold the key of your data.",
            "Choose a passphrase instead. Write it down: nobody can open the data without it.",
        ),
        OpenError::KeyGone => Problem::new(
            "key-gone",
            "The key of this data folder is gone from the system's keyring.",
            "Log in as the person who set it up, or make a new folder from a backup.",
        ),
        OpenError::Full => disk_full(),
        OpenError::Damaged(what) => damaged(&what),
        OpenError::Disk(reason) => Problem::new(
            "data-closed",
            format!("The data folder cannot be used ({reason})."),
            "Choose another data folder, or change its permissions.",
        ),
    }
}

/// A backup could not be made, read or restored.
pub(crate) fn backup(error: BackupError) -> Problem {
    match error {
        BackupError::Open(error) => open(error),
        BackupError::Store(error) => store(error),
        BackupError::Exists => Problem::new(
            "file-there",
            "There is something under this name already.",
            "Choose another name; nothing is ever written over.",
        ),
        BackupError::NotABackup => Problem::new(
            "not-a-backup",
            "This file is not a backup of this program.",
            "Choose the file that the program wrote.",
        ),
        BackupError::WrongPassphrase => Problem::new(
            "wrong-passphrase",
            "This passphrase does not open the backup.",
            "Try again. Capital letters and spaces count.",
        ),
        BackupError::Damaged(_) => Problem::new(
            "backup-damaged",
            "This backup is damaged or incomplete.",
            "Use another copy of it, or an earlier backup. Nothing was changed.",
        ),
        BackupError::Newer { .. } => Problem::new(
            "data-newer",
            "This backup was written by a newer version of the program.",
            UPDATE,
        ),
        BackupError::StoreThere => Problem::new(
            "folder-occupied",
            "There is data in this folder already.",
            "Choose an empty folder.",
        ),
        BackupError::Full => disk_full(),
        BackupError::Disk(reason) => Problem::new(
            "disk-failed",
            format!("The disk could not be read or written ({reason})."),
            TRY_LATER,
        ),
    }
}

/// A carry file could not be made.
pub(crate) fn seal(error: carry::SealError) -> Problem {
    Problem::new(
        "carry-not-made",
        format!("The file could not be made ({error})."),
        "Let the devices meet, or allow larger files.",
    )
}

/// A carry file was not taken.
pub(crate) fn open_carry(error: carry::OpenError) -> Problem {
    use carry::OpenError as E;
    const AGAIN: &str = "Ask for it to be sent again. Nothing was changed.";
    match error {
        E::Read(_) | E::NotPost => Problem::new(
            "not-a-carry-file",
            "This is not a file that this program made to be sent.",
            "Choose the file that came from the other device; its name ends in .pothook-post.",
        ),
        E::Newer => Problem::new(
            "carry-newer",
            "This file was made by a newer version of the program.",
            UPDATE,
        ),
        E::Foreign | E::PassedOn { .. } => Problem::new(
            "carry-not-for-us",
            "This file was made for another device.",
            "Ask for one that is made for this device. Nothing was changed.",
        ),
        E::Cut | E::Damaged => Problem::new(
            "carry-damaged",
            "This file is damaged or incomplete.",
            AGAIN,
        ),
        E::Stranger { .. } => Problem::new(
            "carry-stranger",
            "This file comes from a device that does not belong here.",
            "Pair the two devices first. Nothing was changed.",
        ),
        E::TooLarge { .. } | E::Forged | E::Malformed { .. } => Problem::new(
            "carry-not-right",
            "Something is wrong with this file; it was not taken.",
            AGAIN,
        ),
    }
}

/// The device has no practice yet.
pub(crate) fn no_practice() -> Problem {
    Problem::new(
        "no-practice",
        "There is no pupil on this device yet.",
        "Add a pupil first, or pair this device with your other one.",
    )
}

/// A device that has pupils of its own cannot become another practice's.
pub(crate) fn two_practices() -> Problem {
    Problem::new(
        "two-practices",
        "Both devices have a list of pupils of their own, so neither was made a second one of the other's.",
        "Use a new data folder on one of them to make it a second device of your practice.",
    )
}

/// A key on paper holds that was not handed in; or another one was.
pub(crate) fn paper_key_there(another: bool) -> Problem {
    match another {
        false => Problem::new(
            "paper-key-there",
            "There is a paper key already.",
            "Type the key that is on the paper; then a new one takes its place.",
        ),
        true => Problem::new(
            "paper-key-there",
            "Another paper key than this one holds for your list of pupils, or for some of them.",
            "Type the key that was made last. Nothing has changed: every key holds as before.",
        ),
    }
}

/// Nothing here holds to this key on paper.
pub(crate) fn paper_key_elsewhere() -> Problem {
    Problem::new(
        "paper-key-elsewhere",
        "Nothing on this device holds to this paper key.",
        "Compare it with the paper. A new device comes back through a family's device.",
    )
}

/// A device was removed from some logs, and not from others.
pub(crate) fn removed_in_part(from: usize, of: usize, why: &Problem) -> Problem {
    Problem::new(
        "removed-in-part",
        format!(
            "The device was removed in {from} of {of} places. In the others it was not: {}",
            why.message
        ),
        "Remove it again from another of your devices, which still belongs there.",
    )
}

/// No such device.
pub(crate) fn no_such_device() -> Problem {
    Problem::new(
        "no-such-device",
        "No other device of this kind belongs here.",
        "Pair the two devices first.",
    )
}

/// Reading or writing failed.
pub(crate) fn store(error: StoreError) -> Problem {
    match error {
        StoreError::Full => disk_full(),
        StoreError::Locked => Problem::new(
            "data-in-use",
            "Another program holds this device's data.",
            "Close the other one, and try again.",
        ),
        StoreError::Damaged(what) => damaged(&what),
        StoreError::Conflict { .. } | StoreError::WrongName => damaged("one change"),
        StoreError::OutOfPlace { .. } => damaged("a picture that was on its way"),
        StoreError::Closed => Problem::new(
            "data-closed",
            "The disk failed while old data was being cleared away.",
            "Nothing is lost. Close the program and start it again.",
        ),
        StoreError::NoKeyring(_) => Problem::new(
            "no-keyring",
            "The system's keyring could not be asked for the key of your data.",
            "Log in to the system as usual, and try again.",
        ),
        StoreError::TooLarge { what, .. } => Problem::new(
            "too-large",
            format!("Too much in one piece: {what}."),
            "Make it smaller, and try again.",
        ),
        StoreError::Disk(reason) => Problem::new(
            "disk-failed",
            format!("The disk could not be read or written ({reason})."),
            "Check the disk. What was kept before is not touched.",
        ),
    }
}

pub(crate) fn no_such_pupil() -> Problem {
    Problem::new(
        "no-such-pupil",
        "This pupil is not on this device.",
        "Choose a pupil from the list.",
    )
}

pub(crate) fn disk_full() -> Problem {
    Problem::new(
        "disk-full",
        "The disk is full: this was not kept.",
        "Free some space and try again. What was kept before is safe.",
    )
}

pub(crate) fn damaged(what: &str) -> Problem {
    Problem::new(
        "data-damaged",
        format!("Something in the data folder is damaged: {what}."),
        "Leave the folder as it is and bring back a copy of it, or pair this device anew.",
    )
}

/// A picture, or a whole reading, whose file is not what was written.
pub(crate) fn picture_damaged() -> Problem {
    Problem::new(
        "picture-damaged",
        "A picture on this device, or what was read from it, is damaged and cannot be shown.",
        "Let this device meet one that has it too: it comes again by itself.",
    )
}

/// The case file did not take what was asked.
pub(crate) fn write(error: WriteRefused) -> Problem {
    let what_to_do = match error {
        WriteRefused::OnTheirWay => {
            return Problem::new(
                "books-on-their-way",
                "The books were begun afresh on another device, and are not all here yet.",
                "Let this device meet the others, and try again.",
            );
        }
        WriteRefused::Newer => {
            return Problem::new(
                "book-newer",
                "A newer version of the program has written here.",
                UPDATE,
            );
        }
        WriteRefused::Missing(_) => {
            "It may have been taken away on another device; the screen shows what is there now."
        }
        _ => "Check what was entered, and try again.",
    };
    Problem::new(
        "not-written",
        format!("This could not be written: {error}."),
        what_to_do,
    )
}
