//! A page, without what is kept beside it: text, minutes, readings, the moment of looking, and a letter model
//! of the tutor's own.

use serde::{Deserialize, Serialize};
use units::{BlobId, Day, DeviceId, PageId, PageRecord, TaskId};

use super::ruling::PackedRuling;
use super::{Unpacked, choice, pack, unpack};
use crate::codes::{Code, Start};

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
        model: Start::nearest(&page.model).code(),
        picture: page.picture.0,
    })
}

pub(crate) fn unpack_page(id: PageId, author: DeviceId, bytes: &[u8]) -> Unpacked<PageRecord> {
    let packed: PackedPage = unpack(bytes)?;
    Ok(PageRecord {
        id,
        task: packed.task.map(TaskId),
        written_on: Day(packed.written_on),
        kind: choice(packed.kind)?,
        text: None,
        minutes: None,
        paper: choice(packed.paper)?,
        ruling: packed.ruling.into(),
        model: choice::<Start>(packed.model)?.model(),
        picture: BlobId(packed.picture),
        added_by: author,
        readings: Vec::new(),
        looked_at: None,
    })
}
