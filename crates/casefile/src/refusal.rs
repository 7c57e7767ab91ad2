//! Why a change or an edit is refused.

/// What came of a change that was not refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Accepted {
    /// It was new.
    New,
    /// It was already here; nothing has changed.
    Known,
}

/// Why a change was refused; the books are as they were.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// The signature does not belong to this change and author.
    #[error("the signature does not hold")]
    BadSignature,
    /// The author may not write in this book.
    #[error("the device may not write in this book")]
    NotAMember,
    /// The author was removed, and this change comes after what stands of it.
    #[error("the device was removed before it wrote this")]
    Removed,
    /// The books were founded anew or erased since.
    #[error("the books have been founded anew since")]
    Forgotten,
    /// The change belongs to another pupil or another kind of book.
    #[error("the change belongs to another pupil")]
    WrongPupil,
    /// Earlier changes of the author are missing.
    #[error("changes are missing: the next one must be {expected}")]
    Gap {
        /// The sequence number that must come next.
        expected: u64,
    },
    /// The author signed two different changes under one sequence number.
    #[error("the device has signed two different changes {seq}")]
    Forked {
        /// The sequence number.
        seq: u64,
    },
    /// The change is larger than any that is written here.
    #[error("the change is too large")]
    TooLarge,
    /// The author has written as much as one document holds.
    #[error("the device has written more than one document holds")]
    DocumentFull,
    /// The bytes are no change that could follow.
    #[error("not a change that could follow: {0}")]
    BadChange(&'static str),
}

/// Why an edit was not written; nothing has changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteRefused {
    /// The device is on no list of this pupil.
    #[error("this device does not belong to this pupil")]
    NotAMember,
    /// Only the tutor does this.
    #[error("only the tutor does this")]
    TutorOnly,
    /// A page, mark or amendment names another device as its maker.
    #[error("a record must name the device that writes it")]
    WrongAuthor,
    /// There is no such page, mark, amendment, focus or pupil.
    #[error("there is no such {0}")]
    Missing(&'static str),
    /// The founding that holds is not here yet.
    #[error("the books were begun afresh on another device, and are not all here yet")]
    OnTheirWay,
    /// The id is taken.
    #[error("the {0} is already there")]
    AlreadyThere(&'static str),
    /// Something must not be empty.
    #[error("{0} must not be empty")]
    Empty(&'static str),
    /// Too many characters, lines or points.
    #[error("{what} has more than {limit}")]
    TooLong {
        /// What.
        what: &'static str,
        /// The most allowed.
        limit: usize,
    },
    /// A value that no page or pupil can have.
    #[error("{0} is out of range")]
    OutOfRange(&'static str),
    /// The document holds no more; it is begun afresh when the books are founded anew.
    #[error("this device's part of the history is full; shorten the history first")]
    DocumentFull,
    /// The device's own document was written by a newer version of the program.
    #[error("a newer version of the program has written here")]
    Newer,
    /// The document could not be written.
    #[error("the document could not be written: {0}")]
    Document(String),
}

/// Why bytes are not a document id or signed change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum DecodeRefused {
    /// Too few or too many bytes.
    #[error("the length is wrong")]
    Length,
    /// Written by a protocol that is not known here.
    #[error("the protocol version {0} is not known")]
    UnknownVersion(u8),
    /// A book that is not known here.
    #[error("the kind of book is not known")]
    UnknownBook,
    /// Larger than any change.
    #[error("the change is too large")]
    TooLarge,
}
