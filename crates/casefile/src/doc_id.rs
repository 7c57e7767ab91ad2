//! Which document a change belongs to.

use core::fmt;

use units::{DeviceId, PupilId};

use crate::DecodeRefused;

/// The books there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BookKind {
    /// The log of who belongs to a pupil, or to the practice: see [`crate::Step`].
    Log,
    /// The tutor's book of a pupil.
    Tutor,
    /// The home book of a pupil.
    Home,
    /// The tutor's private practice book: it goes to the tutor's own devices and nowhere else.
    Practice,
}

impl BookKind {
    pub(crate) fn code(self) -> u8 {
        match self {
            Self::Tutor => 1,
            Self::Home => 2,
            Self::Practice => 3,
            Self::Log => 4,
        }
    }

    pub(crate) fn from_code(code: u8) -> Option<Self> {
        [Self::Tutor, Self::Home, Self::Practice, Self::Log]
            .into_iter()
            .find(|book| book.code() == code)
    }
}

/// Which founding of the books: they can be founded anew, and then earlier ones are let go. The
/// first is all zero, every other a random name that its founder gave it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct FoundingId(pub [u8; 8]);

impl FoundingId {
    /// The books as they were begun.
    pub const FIRST: Self = Self([0; 8]);
}

impl fmt::Debug for FoundingId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "FoundingId({:016x})", u64::from_be_bytes(self.0))
    }
}

/// One document: what one device writes in one book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DocId {
    /// The pupil, or the practice: the name that follows from the first entry of its log.
    pub pupil: PupilId,
    /// The book.
    pub book: BookKind,
    /// Which founding of the book; a log has but one.
    pub founding: FoundingId,
    /// The device that writes it.
    pub author: DeviceId,
}

impl DocId {
    /// Bytes of an encoded id.
    pub const BYTES: usize = 16 + 1 + 8 + 32;

    /// Whether the document may go to the tutor's own devices only.
    pub fn is_private(&self) -> bool {
        self.book == BookKind::Practice
    }

    /// Whether it is part of a log.
    pub fn is_log(&self) -> bool {
        self.book == BookKind::Log
    }

    /// Pupil, book, founding, author.
    pub fn encode(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(Self::BYTES);
        bytes.extend(self.pupil.0);
        bytes.push(self.book.code());
        bytes.extend(self.founding.0);
        bytes.extend(self.author.0);
        bytes
    }

    /// The id of [`DocId::encode`]'s bytes.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeRefused> {
        let whole: &[u8; Self::BYTES] = bytes.try_into().map_err(|_| DecodeRefused::Length)?;
        let (pupil, rest) = whole.split_first_chunk().ok_or(DecodeRefused::Length)?;
        let ([book], rest) = rest.split_first_chunk().ok_or(DecodeRefused::Length)?;
        let (founding, author) = rest.split_first_chunk().ok_or(DecodeRefused::Length)?;
        Ok(Self {
            pupil: PupilId(*pupil),
            book: BookKind::from_code(*book).ok_or(DecodeRefused::UnknownBook)?,
            founding: FoundingId(*founding),
            author: DeviceId(author.try_into().map_err(|_| DecodeRefused::Length)?),
        })
    }
}
