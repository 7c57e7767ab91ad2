//! A reading: the measures by name, so that new ones can come and old ones stay.

use serde::{Deserialize, Serialize};
use units::{BlobId, Measure, MeasureName, Moment, Outcome, ReadingId, ReadingRecord};

use super::{Unpacked, pack, unpack};
use crate::codes::Code;

#[derive(Serialize, Deserialize)]
struct PackedReading {
    time: u64,
    engine: String,
    made_at: i64,
    detail: [u8; 32],
    measures: Vec<(String, PackedOutcome)>,
}

#[derive(Serialize, Deserialize)]
enum PackedOutcome {
    Measured {
        value: f64,
        se: f64,
        spread: Option<f64>,
        n: u32,
    },
    NotMeasured {
        because: u8,
    },
}

impl From<&Outcome> for PackedOutcome {
    fn from(outcome: &Outcome) -> Self {
        match outcome {
            Outcome::Measured {
                value,
                se,
                spread,
                n,
                places: _,
            } => Self::Measured {
                value: *value,
                se: *se,
                spread: *spread,
                n: *n,
            },
            Outcome::NotMeasured { because } => Self::NotMeasured {
                because: because.code(),
            },
        }
    }
}

/// A reading made at this logical time. The places of its measures stay in its blob, and so does
/// whether they rest on something that a person put right.
pub(crate) fn pack_reading(reading: &ReadingRecord, time: u64) -> Vec<u8> {
    let measures = reading.measures.iter();
    pack(&PackedReading {
        time,
        engine: reading.engine.clone(),
        made_at: reading.made_at.0,
        detail: reading.detail.0,
        measures: measures
            .map(|measure| (measure.name.text().to_owned(), (&measure.outcome).into()))
            .collect(),
    })
}

/// A reading as stored.
pub(crate) struct StoredReading {
    pub(crate) time: u64,
    pub(crate) reading: ReadingRecord,
    /// Whether it has measures that this program does not know; they are left out.
    pub(crate) newer: bool,
}

pub(crate) fn unpack_reading(id: ReadingId, bytes: &[u8]) -> Unpacked<StoredReading> {
    let packed: PackedReading = unpack(bytes)?;
    let all = packed.measures.len();
    let measures: Vec<Measure> = packed
        .measures
        .into_iter()
        .filter_map(|(name, outcome)| unpack_measure(&name, outcome))
        .collect();
    Ok(StoredReading {
        time: packed.time,
        newer: measures.len() < all,
        reading: ReadingRecord {
            id,
            engine: packed.engine,
            made_at: Moment(packed.made_at),
            measures,
            detail: BlobId(packed.detail),
        },
    })
}

fn unpack_measure(name: &str, outcome: PackedOutcome) -> Option<Measure> {
    let name: MeasureName = name.parse().ok()?;
    let outcome = match outcome {
        PackedOutcome::Measured {
            value,
            se,
            spread,
            n,
        } => Outcome::Measured {
            value,
            se,
            spread,
            n,
            places: Vec::new(),
        },
        PackedOutcome::NotMeasured { because } => Outcome::NotMeasured {
            because: Code::from_code(because)?,
        },
    };
    Some(Measure {
        name,
        outcome,
        by_hand: false,
    })
}
