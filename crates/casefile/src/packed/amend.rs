//! What a person put right.

use serde::{Deserialize, Serialize};
use units::{Amendment, AmendmentId, AmendmentRecord, BoxMm, DeviceId, Mm, Moment, PageId};

use super::{Unpacked, choice, pack, unpack};
use crate::codes::Code;

#[derive(Serialize, Deserialize)]
struct PackedAmendment {
    page: [u8; 16],
    what: PackedWhat,
    made_at: i64,
}

#[derive(Serialize, Deserialize)]
enum PackedWhat {
    Letter {
        at: [f64; 4],
        letter: char,
        bounds: Option<[f64; 4]>,
    },
    Fault {
        at: [f64; 4],
        letter: char,
        fault: u8,
        there: bool,
    },
    Reads {
        at: [f64; 4],
        letter: char,
        as_meant: bool,
    },
    Join {
        at: [f64; 4],
        letter: char,
        verdict: u8,
    },
    Correction {
        at: [f64; 4],
        kind: Option<u8>,
    },
    NotWriting {
        at: [f64; 4],
    },
    Line {
        at: [f64; 4],
    },
}

fn edges(b: BoxMm) -> [f64; 4] {
    [b.x0.0, b.y0.0, b.x1.0, b.y1.0]
}

fn whole([x0, y0, x1, y1]: [f64; 4]) -> BoxMm {
    BoxMm {
        x0: Mm(x0),
        y0: Mm(y0),
        x1: Mm(x1),
        y1: Mm(y1),
    }
}

impl From<Amendment> for PackedWhat {
    fn from(what: Amendment) -> Self {
        match what {
            Amendment::Letter { at, letter, bounds } => Self::Letter {
                at: edges(at),
                letter,
                bounds: bounds.map(edges),
            },
            Amendment::Fault {
                at,
                letter,
                fault,
                there,
            } => Self::Fault {
                at: edges(at),
                letter,
                fault: fault.code(),
                there,
            },
            Amendment::Reads {
                at,
                letter,
                as_meant,
            } => Self::Reads {
                at: edges(at),
                letter,
                as_meant,
            },
            Amendment::Join {
                at,
                letter,
                verdict,
            } => Self::Join {
                at: edges(at),
                letter,
                verdict: verdict.code(),
            },
            Amendment::Correction { at, kind } => Self::Correction {
                at: edges(at),
                kind: kind.map(Code::code),
            },
            Amendment::NotWriting { at } => Self::NotWriting { at: edges(at) },
            Amendment::Line { at } => Self::Line { at: edges(at) },
        }
    }
}

fn unpack_what(what: PackedWhat) -> Unpacked<Amendment> {
    Ok(match what {
        PackedWhat::Letter { at, letter, bounds } => Amendment::Letter {
            at: whole(at),
            letter,
            bounds: bounds.map(whole),
        },
        PackedWhat::Fault {
            at,
            letter,
            fault,
            there,
        } => Amendment::Fault {
            at: whole(at),
            letter,
            fault: choice(fault)?,
            there,
        },
        PackedWhat::Reads {
            at,
            letter,
            as_meant,
        } => Amendment::Reads {
            at: whole(at),
            letter,
            as_meant,
        },
        PackedWhat::Join {
            at,
            letter,
            verdict,
        } => Amendment::Join {
            at: whole(at),
            letter,
            verdict: choice(verdict)?,
        },
        PackedWhat::Correction { at, kind } => Amendment::Correction {
            at: whole(at),
            kind: kind.map(choice).transpose()?,
        },
        PackedWhat::NotWriting { at } => Amendment::NotWriting { at: whole(at) },
        PackedWhat::Line { at } => Amendment::Line { at: whole(at) },
    })
}

pub(crate) fn pack_amendment(amendment: &AmendmentRecord) -> Vec<u8> {
    pack(&PackedAmendment {
        page: amendment.page.0,
        what: amendment.what.into(),
        made_at: amendment.made_at.0,
    })
}

pub(crate) fn unpack_amendment(
    id: AmendmentId,
    author: DeviceId,
    bytes: &[u8],
) -> Unpacked<AmendmentRecord> {
    let packed: PackedAmendment = unpack(bytes)?;
    Ok(AmendmentRecord {
        id,
        page: PageId(packed.page),
        what: unpack_what(packed.what)?,
        made_at: Moment(packed.made_at),
        by: author,
    })
}
