//! Records as compact bytes: a version, then the fields in postcard's encoding.
//!
//! These shapes are the stored form and change only together with [`VERSION`].

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use units::{
    BlobId, BoxMm, Day, DeviceId, Focus, FocusId, Mark, MarkId, MarkShape, Measure, MeasureName,
    Mm, Moment, Outcome, PageId, PageRecord, PointMm, ReadingId, ReadingRecord, Ruling, TaskId,
};

use crate::codes::Code;

const VERSION: u8 = 1;

/// Why stored bytes are left out of the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unreadable {
    /// Written by a newer version of the program.
    Newer,
    /// Not written by this program at all.
    Bad,
}

type Unpacked<T> = Result<T, Unreadable>;

fn pack(fields: &impl Serialize) -> Vec<u8> {
    // Writing plain fields to memory cannot fail.
    postcard::to_extend(fields, vec![VERSION]).unwrap_or_default()
}

fn unpack<T: DeserializeOwned>(bytes: &[u8]) -> Unpacked<T> {
    let (&version, fields) = bytes.split_first().ok_or(Unreadable::Bad)?;
    if version > VERSION {
        return Err(Unreadable::Newer);
    }
    match postcard::take_from_bytes(fields) {
        Ok((value, [])) => Ok(value),
        _ => Err(Unreadable::Bad),
    }
}

fn choice<T: Code>(code: u8) -> Unpacked<T> {
    T::from_code(code).ok_or(Unreadable::Newer)
}

#[derive(Serialize, Deserialize)]
enum PackedRuling {
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

#[derive(Serialize, Deserialize)]
struct PackedPage {
    task: Option<[u8; 16]>,
    written_on: i32,
    kind: u8,
    paper: u8,
    ruling: PackedRuling,
    model: u8,
    picture: [u8; 32],
}

pub(crate) fn pack_page(page: &PageRecord) -> Vec<u8> {
    pack(&PackedPage {
        task: page.task.map(|task| task.0),
        written_on: page.written_on.0,
        kind: page.kind.code(),
        paper: page.paper.code(),
        ruling: page.ruling.into(),
        model: page.model.code(),
        picture: page.picture.0,
    })
}

/// The page without what is kept beside it: text, readings and the moment of looking.
pub(crate) fn unpack_page(id: PageId, author: DeviceId, bytes: &[u8]) -> Unpacked<PageRecord> {
    let packed: PackedPage = unpack(bytes)?;
    Ok(PageRecord {
        id,
        task: packed.task.map(TaskId),
        written_on: Day(packed.written_on),
        kind: choice(packed.kind)?,
        text: None,
        paper: choice(packed.paper)?,
        ruling: packed.ruling.into(),
        model: choice(packed.model)?,
        picture: BlobId(packed.picture),
        added_by: author,
        readings: Vec::new(),
        looked_at: None,
    })
}

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

/// A reading made at this logical time. The places of its measures stay in its blob.
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
    Some(Measure { name, outcome })
}

#[derive(Serialize, Deserialize)]
struct PackedMark {
    page: [u8; 16],
    shape: PackedShape,
    words: String,
    aspect: Option<u8>,
    praise: bool,
    made_at: i64,
}

#[derive(Serialize, Deserialize)]
enum PackedShape {
    Box([f64; 4]),
    /// Hundredths of a millimetre, each point as its step from the one before.
    Pen(Vec<(i32, i32)>),
    Note([f64; 2]),
}

impl From<&MarkShape> for PackedShape {
    fn from(shape: &MarkShape) -> Self {
        match shape {
            MarkShape::Box { bounds } => {
                Self::Box([bounds.x0.0, bounds.y0.0, bounds.x1.0, bounds.y1.0])
            }
            MarkShape::Pen { points } => Self::Pen(steps(points)),
            MarkShape::Note { at } => Self::Note([at.x.0, at.y.0]),
        }
    }
}

impl From<PackedShape> for MarkShape {
    fn from(shape: PackedShape) -> Self {
        match shape {
            PackedShape::Box([x0, y0, x1, y1]) => Self::Box {
                bounds: BoxMm {
                    x0: Mm(x0),
                    y0: Mm(y0),
                    x1: Mm(x1),
                    y1: Mm(y1),
                },
            },
            PackedShape::Pen(steps) => Self::Pen {
                points: points(&steps),
            },
            PackedShape::Note([x, y]) => Self::Note {
                at: PointMm { x: Mm(x), y: Mm(y) },
            },
        }
    }
}

fn steps(points: &[PointMm]) -> Vec<(i32, i32)> {
    let hundredths = |length: Mm| (length.0 * 100.0).round() as i32;
    let mut last = (0, 0);
    let step = |point: &PointMm| {
        let here = (hundredths(point.x), hundredths(point.y));
        let step = (here.0 - last.0, here.1 - last.1);
        last = here;
        step
    };
    points.iter().map(step).collect()
}

fn points(steps: &[(i32, i32)]) -> Vec<PointMm> {
    let mut here = (0_i32, 0_i32);
    let point = |step: &(i32, i32)| {
        here = (here.0.wrapping_add(step.0), here.1.wrapping_add(step.1));
        PointMm {
            x: Mm(f64::from(here.0) / 100.0),
            y: Mm(f64::from(here.1) / 100.0),
        }
    };
    steps.iter().map(point).collect()
}

pub(crate) fn pack_mark(mark: &Mark) -> Vec<u8> {
    pack(&PackedMark {
        page: mark.page.0,
        shape: (&mark.shape).into(),
        words: mark.words.clone(),
        aspect: mark.aspect.map(Code::code),
        praise: mark.praise,
        made_at: mark.made_at.0,
    })
}

pub(crate) fn unpack_mark(id: MarkId, author: DeviceId, bytes: &[u8]) -> Unpacked<Mark> {
    let packed: PackedMark = unpack(bytes)?;
    Ok(Mark {
        id,
        page: PageId(packed.page),
        shape: packed.shape.into(),
        words: packed.words,
        aspect: packed.aspect.map(choice).transpose()?,
        praise: packed.praise,
        made_at: Moment(packed.made_at),
        by: author,
    })
}

#[derive(Serialize, Deserialize)]
struct PackedFocus {
    aspect: u8,
    from: i32,
    try_this: String,
}

pub(crate) fn pack_focus(focus: &Focus) -> Vec<u8> {
    pack(&PackedFocus {
        aspect: focus.aspect.code(),
        from: focus.from.0,
        try_this: focus.try_this.clone(),
    })
}

/// The focus without its end, which is kept beside it.
pub(crate) fn unpack_focus(id: FocusId, bytes: &[u8]) -> Unpacked<Focus> {
    let packed: PackedFocus = unpack(bytes)?;
    Ok(Focus {
        id,
        aspect: choice(packed.aspect)?,
        from: Day(packed.from),
        to: None,
        try_this: packed.try_this,
    })
}
