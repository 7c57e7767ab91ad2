//! Which document a change belongs to.

use units::{DeviceId, PupilId};

use crate::DecodeRefused;

/// The books there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BookKind {
    /// The tutor's book of a pupil.
    Tutor,
    /// The home book of a pupil.
    Home,
    /// The tutor's private practice book: it goes to the tutor's own devices and nowhere else.
    Practice,
}

impl BookKind {
    fn code(self) -> u8 {
        match self {
            Self::Tutor => 1,
            Self::Home => 2,
            Self::Practice => 3,
        }
    }

    fn from_code(code: u8) -> Option<Self> {
        [Self::Tutor, Self::Home, Self::Practice]
            .into_iter()
            .find(|book| book.code() == code)
    }
}

/// One document: what one device writes in one book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DocId {
    /// The pupil; all zero for the practice book.
    pub pupil: PupilId,
    /// The book.
    pub book: BookKind,
    /// The device that writes it.
    pub author: DeviceId,
}

impl DocId {
    /// Bytes of an encoded id.
    pub const BYTES: usize = 16 + 1 + 32;

    /// The practice book's document of a tutor's device.
    pub fn practice(author: DeviceId) -> Self {
        Self {
            pupil: PupilId([0; 16]),
            book: BookKind::Practice,
            author,
        }
    }

    /// Whether the document may go to the tutor's own devices only.
    pub fn is_private(&self) -> bool {
        self.book == BookKind::Practice
    }

    /// Pupil, book, author.
    pub fn encode(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(Self::BYTES);
        bytes.extend(self.pupil.0);
        bytes.push(self.book.code());
        bytes.extend(self.author.0);
        bytes
    }

    /// The id of [`DocId::encode`]'s bytes.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeRefused> {
        if bytes.len() != Self::BYTES {
            return Err(DecodeRefused::Length);
        }
        let (pupil, rest) = bytes.split_at(16);
        let (book, author) = rest.split_at(1);
        Ok(Self {
            pupil: PupilId(pupil.try_into().map_err(|_| DecodeRefused::Length)?),
            book: BookKind::from_code(book[0]).ok_or(DecodeRefused::UnknownBook)?,
            author: DeviceId(author.try_into().map_err(|_| DecodeRefused::Length)?),
        })
    }
}
