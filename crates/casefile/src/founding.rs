//! Founding the books anew: what goes into the seed, and what a device carries over that wrote on
//! before it heard of it.
//!
//! An Automerge history cannot be shortened. So a device of the tutor's writes the present state into
//! fresh documents, and everybody lets go of the old ones once the new ones are here. Only ids stand in
//! the log: what is forgotten goes with the old documents.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use units::DeviceId;

use crate::author_doc::{AuthorDoc, Put, Value};
use crate::forgotten::Forgotten;
use crate::merged::{
    Clock, DOUBT_KEY, Kind, LAST_TIME, Merged, SCHEMA, SCHEMA_KEY, TIME_KEY, kind, maker,
    maker_key, time_key,
};
use crate::{BookKind, DocId};

/// Most bytes and keys of one change of a seed: well below what a change may hold.
const CHANGE_BYTES: usize = 400_000;
const CHANGE_KEYS: usize = 1_500;

/// The changes of a seed: all that holds, but for what is left out.
pub(crate) fn seed(
    merged: &Merged<'_>,
    author: DeviceId,
    left_out: impl Fn(&str, &Value) -> bool,
) -> Vec<Vec<Put>> {
    let keys = merged.records().map(|(key, ..)| key);
    let mut parts = Parts::new(merged.time, keys);
    for (key, time, maker, value) in merged.registers() {
        if !left_out(key, value) {
            parts.register(key, time, value, (maker != author).then_some(maker));
        }
    }
    for (key, maker, value) in merged.records() {
        if !left_out(key, value) && !key.starts_with("by/") {
            parts.record(key, value, (maker != author).then_some(maker));
        }
    }
    parts.done()
}

/// A value that comes late, with its place among the writes to its register.
struct Late<'a> {
    rank: (u64, bool, DeviceId),
    maker: DeviceId,
    value: &'a Value,
}

/// A document that is left for a new founding.
pub(crate) struct Left<'a> {
    pub(crate) id: &'a DocId,
    pub(crate) doc: &'a AuthorDoc,
    /// Whether somebody who belongs vouches for all of it.
    pub(crate) vouched: bool,
    /// The keys of which nobody vouches that they are by whom the document says.
    later: BTreeSet<&'a str>,
}

impl<'a> Left<'a> {
    /// Of one for which nobody vouches, so many changes are a seed that tells no untruth of this device.
    pub(crate) fn new(id: &'a DocId, doc: &'a AuthorDoc, vouched: bool, seed: u64) -> Self {
        let later = match vouched {
            true => BTreeSet::new(),
            false => doc.keys_beyond(seed),
        };
        Self {
            id,
            doc,
            vouched,
            later,
        }
    }

    /// Whether a device made what stands under a key, though a founding has put it in another's document. It
    /// speaks for that: it may be the only one that has it, or its picture.
    fn is_by(&self, device: DeviceId, key: &str) -> bool {
        let Self { id, doc, later, .. } = self;
        let made = |key: &str| {
            maker(id, doc, key) == device && (id.author == device || !later.contains(key))
        };
        match key.split_once('/') {
            // The readings of a page do not say who made them.
            Some(("reading", rest)) => {
                let page = rest.split_once('/').map_or(rest, |(page, _)| page);
                made(&format!("page/{page}")) && !later.contains(key)
            }
            _ => made(key),
        }
    }
}

/// Whether all that a seed says to be by a device is by it. A removed device may have said what it liked; and
/// what it says of others must not come back by way of them.
pub(crate) fn is_true_of(device: DeviceId, seed: (&DocId, &AuthorDoc), left: &[Left<'_>]) -> bool {
    let (id, doc) = seed;
    let time = |doc: &AuthorDoc, key: &str| match doc.values().get(&time_key(key)) {
        Some(Value::Uint(time)) => *time,
        _ => 0,
    };
    let mut said = doc.values().iter().filter(|(key, _)| {
        kind(id.book, key).is_some() && id.author != device && maker(id, doc, key) == device
    });
    said.all(|(key, value)| {
        left.iter().any(|left| {
            let same = match kind(id.book, key) {
                // It may have been written again since.
                Some(Kind::Register) => time(left.doc, key) >= time(doc, key),
                _ => left.doc.values().get(key) == Some(value),
            };
            same && left.is_by(device, key)
        })
    })
}

/// What a device carries over from all documents into its own, as far as it may speak for it: of late keys,
/// or of all where that is not known, what the new founding lacks or has from an earlier time. From documents
/// for which nobody vouches it takes only what it made itself.
pub(crate) fn carried(
    docs: &[Left<'_>],
    late: &BTreeSet<&str>,
    into: &Merged<'_>,
    book: BookKind,
    author: DeviceId,
    forgotten: &Forgotten,
    clock: Clock,
) -> (Vec<Vec<Put>>, u32) {
    let mut best: BTreeMap<&str, Late<'_>> = BTreeMap::new();
    for left in docs {
        let Left {
            id, doc, vouched, ..
        } = left;
        for (key, value) in doc.values() {
            let plain = !key.ends_with('@') && ![SCHEMA_KEY, TIME_KEY, DOUBT_KEY].contains(&&**key);
            let wanted = late.contains(key.as_str()) || id.author == author && is_out(key);
            if !plain || key.starts_with("by/") || !wanted {
                continue;
            }
            // Nobody says in another book by way of this device what it may not say there itself.
            if id.book != book && kind(id.book, key).is_none() {
                continue;
            }
            let others = !vouched || book == BookKind::Home && id.book != book;
            if others && !(kind(book, key).is_some() && left.is_by(author, key)) {
                continue;
            }
            let time = match doc.values().get(&time_key(key)) {
                _ if kind(id.book, key) == Some(Kind::Record) => 0,
                Some(Value::Uint(time)) => clock.believed(*time).min(LAST_TIME),
                _ => 0,
            };
            let late = Late {
                rank: (time, id.book == BookKind::Tutor, id.author),
                maker: maker(id, doc, key),
                value,
            };
            match best.entry(key) {
                Entry::Vacant(place) => {
                    place.insert(late);
                }
                Entry::Occupied(mut held) if time > 0 && late.rank > held.get().rank => {
                    held.insert(late);
                }
                Entry::Occupied(_) => {}
            }
        }
    }
    let mut parts = Parts::new(into.time, best.keys().copied());
    let mut dropped = 0;
    for (key, Late { rank, maker, value }) in best {
        let (time, ..) = rank;
        if forgotten.touches(key, value) && !(maker == author && is_out(key)) {
            dropped += 1;
            continue;
        }
        if is_taken_back(into, key) {
            continue;
        }
        let register = match kind(book, key) {
            Some(kind) => kind == Kind::Register,
            None => time > 0,
        };
        let other = (maker != author && book != BookKind::Home).then_some(maker);
        if register {
            if into.written_at(key) < time {
                parts.register(key, time, value, other);
            }
        } else if into.record(key).is_empty() {
            parts.record(key, value, other);
        }
    }
    (parts.done(), dropped)
}

/// Whether this says that a page is taken out. The page goes with the next founding, and what says so with it;
/// but should that one turn out not to hold, the page is there again. So whoever said it goes on saying it.
fn is_out(key: &str) -> bool {
    key.starts_with("gone/")
}

/// Whether a mark was removed, or an amendment or practice taken back, before the books were founded anew.
fn is_taken_back(merged: &Merged<'_>, key: &str) -> bool {
    let back = match key.split_once('/') {
        Some(("mark" | "remark", id)) => format!("unmark/{id}"),
        Some(("amend", id)) => format!("unamend/{id}"),
        Some(("ask", id)) => format!("unask/{id}"),
        Some(("practised", id)) => format!("unpractised/{id}"),
        _ => return false,
    };
    !merged.record(&back).is_empty()
}

/// Puts gathered into changes of bounded size.
struct Parts {
    time: u64,
    /// Keys under which the makers of two records would stand.
    shared: BTreeSet<String>,
    done: Vec<Vec<Put>>,
    open: Vec<Put>,
    bytes: usize,
}

impl Parts {
    /// For records of these keys.
    fn new<'a>(time: u64, records: impl Iterator<Item = &'a str>) -> Self {
        let mut by_maker: BTreeMap<String, Option<String>> = BTreeMap::new();
        let mut shared = BTreeSet::new();
        for key in records {
            let Some(by) = maker_key(key, false) else {
                continue;
            };
            let whole = maker_key(key, true);
            if *by_maker.entry(by.clone()).or_insert_with(|| whole.clone()) != whole {
                shared.insert(by);
            }
        }
        Self {
            time: (time + 1).min(LAST_TIME),
            shared,
            done: Vec::new(),
            open: Vec::new(),
            bytes: 0,
        }
    }

    fn register(&mut self, key: &str, time: u64, value: &Value, maker: Option<DeviceId>) {
        let time = time.min(LAST_TIME);
        let mut puts = vec![
            (time_key(key), Value::Uint(time)),
            (key.to_owned(), value.clone()),
        ];
        let by = |maker: DeviceId| {
            let by = [&maker.0[..], &time.to_le_bytes()].concat();
            Some((maker_key(key, true)?, Value::Bytes(by)))
        };
        puts.extend(maker.and_then(by));
        self.push(puts);
    }

    fn record(&mut self, key: &str, value: &Value, maker: Option<DeviceId>) {
        let mut puts = vec![(key.to_owned(), value.clone())];
        let by = |maker: DeviceId| {
            let by = maker_key(key, false)?;
            let by = match self.shared.contains(&by) {
                true => maker_key(key, true)?,
                false => by,
            };
            Some((by, Value::Bytes(maker.0.to_vec())))
        };
        if !key.starts_with("model/") {
            puts.extend(maker.and_then(by));
        }
        self.push(puts);
    }

    fn push(&mut self, puts: Vec<Put>) {
        let size = |put: &Put| {
            put.0.len()
                + match &put.1 {
                    Value::Bytes(bytes) => bytes.len(),
                    Value::Text(text) => text.len(),
                    _ => 8,
                }
        };
        let bytes: usize = puts.iter().map(size).sum();
        if self.bytes + bytes > CHANGE_BYTES || self.open.len() >= CHANGE_KEYS {
            self.close();
        }
        self.bytes += bytes;
        self.open.extend(puts);
    }

    fn close(&mut self) {
        if self.open.is_empty() {
            return;
        }
        let mut puts = vec![
            (SCHEMA_KEY.to_owned(), Value::Uint(SCHEMA)),
            (TIME_KEY.to_owned(), Value::Uint(self.time)),
        ];
        puts.append(&mut self.open);
        self.done.push(puts);
        self.bytes = 0;
    }

    fn done(mut self) -> Vec<Vec<Put>> {
        self.close();
        self.done
    }
}
