//! One entry of a log as bytes: a version, the entries it rests on, and the step.

use serde::{Deserialize, Serialize};
use units::{DeviceId, Role};

use crate::{BookKind, FoundingId};

/// BLAKE3 of an entry with its author and place.
pub(crate) type EntryHash = [u8; 32];

const VERSION: u8 = 1;
/// Most entries that one names as those that it rests on.
pub(crate) const MAX_HEADS: usize = 1_000;
/// Most things that one founding forgets.
pub const MAX_FORGOTTEN: usize = 4_096;
/// Most documents that one entry names.
pub(crate) const MAX_DOCS: usize = 1_024;

/// Whose log it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CircleKind {
    /// A pupil's.
    Pupil,
    /// The tutor's practice.
    Practice,
}

/// How far a document had come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reached {
    /// The book.
    pub book: BookKind,
    /// Which founding of it.
    pub founding: FoundingId,
    /// The device that writes it.
    pub author: DeviceId,
    /// The number of its last change.
    pub seq: u64,
    /// BLAKE3 of that change's bytes.
    pub digest: [u8; 32],
}

/// What an entry of a log says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// The first entry: its author is the tutor's first device.
    Begin {
        /// Whose log it is.
        circle: CircleKind,
        /// Random, so that the name says nothing.
        nonce: [u8; 16],
        /// The paper key, where there is one already.
        paper: Option<DeviceId>,
    },
    /// A device belongs from now on.
    Admit {
        /// The device.
        device: DeviceId,
        /// Whose it is.
        role: Role,
    },
    /// A device belongs no longer. Of its documents stands what is named here, and nothing beyond.
    Remove {
        /// The device.
        device: DeviceId,
        /// How far its documents had come where this was written.
        last: Vec<Reached>,
    },
    /// Names the paper key. The first may be named by any device of the tutor's, another only by
    /// the paper key that it replaces.
    Paper {
        /// Its public half.
        key: DeviceId,
    },
    /// The books are founded anew.
    Found {
        /// The new founding.
        founding: FoundingId,
        /// The founding that it replaces.
        after: FoundingId,
        /// The last of the changes that hold the present state; the founder's own first ones.
        seed: Reached,
        /// How far every document of the founding before had come: all of this is in the seed.
        upto: Vec<Reached>,
        /// The random ids of what is forgotten.
        forgotten: Vec<[u8; 16]>,
    },
    /// The pupil is erased: nothing is kept but this log.
    Erase,
    /// Something that only a newer version of the program understands.
    Newer,
}

/// An entry with what it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Entry {
    /// The newest entries that its author knew.
    pub(crate) heads: Vec<EntryHash>,
    pub(crate) step: Step,
}

#[derive(Serialize, Deserialize)]
struct PackedReached {
    book: u8,
    founding: [u8; 8],
    author: [u8; 32],
    seq: u64,
    digest: [u8; 32],
}

#[derive(Serialize, Deserialize)]
enum PackedStep {
    Begin {
        circle: CircleKind,
        nonce: [u8; 16],
        paper: Option<[u8; 32]>,
    },
    Admit {
        device: [u8; 32],
        tutor: bool,
    },
    Remove {
        device: [u8; 32],
        last: Vec<PackedReached>,
    },
    Paper {
        key: [u8; 32],
    },
    Found {
        founding: [u8; 8],
        after: [u8; 8],
        seed: PackedReached,
        upto: Vec<PackedReached>,
        forgotten: Vec<[u8; 16]>,
    },
    Erase,
}

impl From<&Reached> for PackedReached {
    fn from(reached: &Reached) -> Self {
        Self {
            book: reached.book.code(),
            founding: reached.founding.0,
            author: reached.author.0,
            seq: reached.seq,
            digest: reached.digest,
        }
    }
}

impl PackedReached {
    fn reached(self) -> Option<Reached> {
        Some(Reached {
            book: BookKind::from_code(self.book)?,
            founding: FoundingId(self.founding),
            author: DeviceId(self.author),
            seq: self.seq,
            digest: self.digest,
        })
    }
}

fn all_reached(packed: Vec<PackedReached>) -> Option<Vec<Reached>> {
    if packed.len() > MAX_DOCS {
        return None;
    }
    packed.into_iter().map(PackedReached::reached).collect()
}

impl PackedStep {
    /// `None` for what no version writes.
    fn step(self) -> Option<Step> {
        Some(match self {
            Self::Begin {
                circle,
                nonce,
                paper,
            } => Step::Begin {
                circle,
                nonce,
                paper: paper.map(DeviceId),
            },
            Self::Admit { device, tutor } => Step::Admit {
                device: DeviceId(device),
                role: if tutor { Role::Tutor } else { Role::Parent },
            },
            Self::Remove { device, last } => Step::Remove {
                device: DeviceId(device),
                last: all_reached(last)?,
            },
            Self::Paper { key } => Step::Paper { key: DeviceId(key) },
            Self::Found {
                founding,
                after,
                seed,
                upto,
                forgotten,
            } => {
                let seed = seed.reached()?;
                let founding = FoundingId(founding);
                if forgotten.len() > MAX_FORGOTTEN || seed.founding != founding {
                    return None;
                }
                Step::Found {
                    founding,
                    after: FoundingId(after),
                    seed,
                    upto: all_reached(upto)?,
                    forgotten,
                }
            }
            Self::Erase => Step::Erase,
        })
    }
}

impl Step {
    fn pack(&self) -> Option<PackedStep> {
        Some(match self {
            Self::Begin {
                circle,
                nonce,
                paper,
            } => PackedStep::Begin {
                circle: *circle,
                nonce: *nonce,
                paper: paper.map(|key| key.0),
            },
            Self::Admit { device, role } => PackedStep::Admit {
                device: device.0,
                tutor: *role == Role::Tutor,
            },
            Self::Remove { device, last } => PackedStep::Remove {
                device: device.0,
                last: last.iter().map(Into::into).collect(),
            },
            Self::Paper { key } => PackedStep::Paper { key: key.0 },
            Self::Found {
                founding,
                after,
                seed,
                upto,
                forgotten,
            } => PackedStep::Found {
                founding: founding.0,
                after: after.0,
                seed: seed.into(),
                upto: upto.iter().map(Into::into).collect(),
                forgotten: forgotten.clone(),
            },
            Self::Erase => PackedStep::Erase,
            Self::Newer => return None,
        })
    }
}

impl Entry {
    pub(crate) fn encode(&self) -> Vec<u8> {
        // Writing plain fields to memory cannot fail; nobody writes what is newer.
        let bytes = postcard::to_extend(&self.heads, vec![VERSION]).unwrap_or_default();
        postcard::to_extend(&self.step.pack(), bytes).unwrap_or_default()
    }

    /// The entry in these bytes; `None` if they are none. A step that is not known is
    /// [`Step::Newer`].
    pub(crate) fn decode(bytes: &[u8]) -> Option<Self> {
        let (&version, rest) = bytes.split_first()?;
        let (heads, rest) = postcard::take_from_bytes::<Vec<EntryHash>>(rest).ok()?;
        if version == 0 || heads.len() > MAX_HEADS || !heads.is_sorted_by(|a, b| a < b) {
            return None;
        }
        let step = match version {
            VERSION => match postcard::take_from_bytes::<Option<PackedStep>>(rest) {
                Ok((Some(step), [])) => step.step()?,
                _ => return None,
            },
            _ => Step::Newer,
        };
        Some(Self { heads, step })
    }
}
