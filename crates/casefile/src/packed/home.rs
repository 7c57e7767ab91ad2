//! What happens at home, replies, wishes and targets.

use serde::{Deserialize, Serialize};
use units::{
    Ask, AskId, AskedFor, Day, DeviceId, MarkId, MeasureName, Moment, PageId, Practised,
    PractisedId, Reply, ReplyId, SetUpCheck, SetUpId, SetUpItem, Target, TaskId,
};

use super::{Unpacked, choice, pack, unpack};
use crate::codes::Code;

#[derive(Serialize, Deserialize)]
struct PackedPractised {
    day: i32,
    minutes: u16,
    task: Option<[u8; 16]>,
}

pub(crate) fn pack_practised(practised: &Practised) -> Vec<u8> {
    pack(&PackedPractised {
        day: practised.day.0,
        minutes: practised.minutes,
        task: practised.task.map(|task| task.0),
    })
}

pub(crate) fn unpack_practised(id: PractisedId, bytes: &[u8]) -> Unpacked<Practised> {
    let packed: PackedPractised = unpack(bytes)?;
    Ok(Practised {
        id,
        day: Day(packed.day),
        minutes: packed.minutes,
        task: packed.task.map(TaskId),
    })
}

#[derive(Serialize, Deserialize)]
struct PackedSetUp {
    day: i32,
    fine: Vec<u8>,
    not_yet: Vec<u8>,
}

pub(crate) fn pack_setup(check: &SetUpCheck) -> Vec<u8> {
    let codes = |items: &[SetUpItem]| items.iter().map(|item| item.code()).collect();
    pack(&PackedSetUp {
        day: check.day.0,
        fine: codes(&check.fine),
        not_yet: codes(&check.not_yet),
    })
}

pub(crate) fn unpack_setup(id: SetUpId, bytes: &[u8]) -> Unpacked<SetUpCheck> {
    let packed: PackedSetUp = unpack(bytes)?;
    Ok(SetUpCheck {
        id,
        day: Day(packed.day),
        fine: items(packed.fine)?,
        not_yet: items(packed.not_yet)?,
    })
}

fn items(codes: Vec<u8>) -> Unpacked<Vec<SetUpItem>> {
    codes.into_iter().map(choice).collect()
}

#[derive(Serialize, Deserialize)]
struct PackedReply {
    page: [u8; 16],
    mark: Option<[u8; 16]>,
    words: String,
    made_at: i64,
}

pub(crate) fn pack_reply(reply: &Reply) -> Vec<u8> {
    pack(&PackedReply {
        page: reply.page.0,
        mark: reply.mark.map(|mark| mark.0),
        words: reply.words.clone(),
        made_at: reply.made_at.0,
    })
}

pub(crate) fn unpack_reply(id: ReplyId, author: DeviceId, bytes: &[u8]) -> Unpacked<Reply> {
    let packed: PackedReply = unpack(bytes)?;
    Ok(Reply {
        id,
        page: PageId(packed.page),
        mark: packed.mark.map(MarkId),
        words: packed.words,
        made_at: Moment(packed.made_at),
        by: author,
    })
}

#[derive(Serialize, Deserialize)]
struct PackedAsk {
    /// Absent where everything is meant.
    page: Option<[u8; 16]>,
    made_at: i64,
}

pub(crate) fn pack_ask(ask: &Ask) -> Vec<u8> {
    pack(&PackedAsk {
        page: match ask.wish {
            AskedFor::Page { page } => Some(page.0),
            AskedFor::Everything => None,
        },
        made_at: ask.made_at.0,
    })
}

pub(crate) fn unpack_ask(id: AskId, author: DeviceId, bytes: &[u8]) -> Unpacked<Ask> {
    let packed: PackedAsk = unpack(bytes)?;
    let page = |page| AskedFor::Page { page: PageId(page) };
    Ok(Ask {
        id,
        wish: packed.page.map_or(AskedFor::Everything, page),
        made_at: Moment(packed.made_at),
        by: author,
    })
}

#[derive(Serialize, Deserialize)]
struct PackedTarget {
    value: f64,
    by: Option<i32>,
}

pub(crate) fn pack_target(target: &Target) -> Vec<u8> {
    pack(&PackedTarget {
        value: target.value,
        by: target.by.map(|day| day.0),
    })
}

pub(crate) fn unpack_target(measure: MeasureName, bytes: &[u8]) -> Unpacked<Target> {
    let packed: PackedTarget = unpack(bytes)?;
    Ok(Target {
        measure,
        value: packed.value,
        by: packed.by.map(Day),
    })
}
