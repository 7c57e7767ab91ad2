//! A mark. Pen strokes are kept as steps, which are short.

use serde::{Deserialize, Serialize};
use units::{BoxMm, DeviceId, Mark, MarkId, MarkShape, Mm, Moment, PageId, PointMm};

use super::{Unpacked, choice, pack, unpack};
use crate::codes::Code;

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
