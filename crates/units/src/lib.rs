//! Plain words that the rooms of Pothook hand each other: newtypes with units,
//! ids, and records with public fields.
//!
//! **May not know:** anything but `serde` (and, behind the feature `ts`, the
//! description of these records for the screen). No pixels, no documents, no
//! files, no clock, no network.

mod amend;
mod aspect;
mod day;
mod home;
mod id;
mod lesson;
mod letter;
mod letter_model;
mod mesh;
mod paper;
mod place;
mod problem;
mod reading;
mod record;
mod scalar;

pub use amend::{Amendment, AmendmentRecord};
pub use aspect::{Aspect, MeasureName, Unit};
pub use day::{Day, Moment};
pub use home::{Ask, AskedFor, Practised, Reply, SetUpCheck, SetUpItem, Target};
pub use id::{
    AmendmentId, AskId, BlobId, DeviceId, FocusId, IdError, MarkId, PageId, PractisedId, PupilId,
    ReadingId, ReplyId, SetUpId, TaskId,
};
pub use lesson::{Lesson, Weekday};
pub use letter::{
    Bowl, Fault, FaultKind, Join, JoinVerdict, Letter, LetterClass, Reads, Skipped, TextFit,
};
pub use letter_model::{Exit, LetterForm, LetterModel, LetterModelFault, Storeys};
pub use mesh::Mesh;
pub use paper::{Expectation, Paper, Ruling, TaskKind};
pub use place::{BoxMm, PointMm};
pub use problem::Problem;
pub use reading::{
    Correction, CorrectionKind, FitCheck, FitFault, Fitness, Frame, Line, Measure, Outcome,
    Reading, RulingFound, ScaleSource, WhyNot, Word,
};
pub use record::{
    Focus, Hand, Mark, MarkShape, PageRecord, Profile, ReadingRecord, Role, SchoolYear, Task,
};
pub use scalar::{Degrees, Mm, Ratio};
