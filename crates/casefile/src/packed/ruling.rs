//! What is printed on the paper.

use serde::{Deserialize, Serialize};
use units::{Mm, Ruling};

use super::{Unpacked, pack, unpack};

#[derive(Serialize, Deserialize)]
pub(super) enum PackedRuling {
    Plain,
    Lines { pitch: f64 },
    Squares { side: f64, every: u8 },
    FourLine { pitch: f64, inner: f64 },
}

impl From<Ruling> for PackedRuling {
    fn from(ruling: Ruling) -> Self {
        match ruling {
            Ruling::Plain => Self::Plain,
            Ruling::Lines { pitch } => Self::Lines { pitch: pitch.0 },
            Ruling::Squares { side, every } => Self::Squares {
                side: side.0,
                every,
            },
            Ruling::FourLine { pitch, inner } => Self::FourLine {
                pitch: pitch.0,
                inner: inner.0,
            },
        }
    }
}

impl From<PackedRuling> for Ruling {
    fn from(ruling: PackedRuling) -> Self {
        match ruling {
            PackedRuling::Plain => Self::Plain,
            PackedRuling::Lines { pitch } => Self::Lines { pitch: Mm(pitch) },
            PackedRuling::Squares { side, every } => Self::Squares {
                side: Mm(side),
                every,
            },
            PackedRuling::FourLine { pitch, inner } => Self::FourLine {
                pitch: Mm(pitch),
                inner: Mm(inner),
            },
        }
    }
}

pub(crate) fn pack_ruling(ruling: Ruling) -> Vec<u8> {
    pack(&PackedRuling::from(ruling))
}

pub(crate) fn unpack_ruling(bytes: &[u8]) -> Unpacked<Ruling> {
    unpack::<PackedRuling>(bytes).map(Ruling::from)
}
