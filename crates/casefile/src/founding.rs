//! Founding the books anew: what goes into the seed, and what a device carries over that wrote on
//! before it heard of it.
//!
//! An Automerge history cannot be shortened. So a device of the tutor's writes the present state into
//! fresh documents, and everybody lets go of the old ones once the new ones are here. Only ids stand in
//! the log: what is forgotten goes with the old documents.

use std::collections::{BTreeMap, BTreeSet};

use units::DeviceId;

use crate::author_doc::{AuthorDoc, Put, Value};
use crate::merged::{Kind, Merged, SCHEMA, SCHEMA_KEY, TIME_KEY, kind, maker_key, time_key};
use crate::{BookKind, DocId};

/// Most bytes and keys of one change of a seed: well below what a change may hold.
const CHANGE_BYTES: usize = 400_000;
const CHANGE_KEYS: usize = 1_500;

/// What is forgotten: ids, and whatever names them.
pub(crate) struct Forgotten {
    ids: BTreeSet<[u8; 16]>,
    text: BTreeSet<String>,
    /// The first bytes of all ids, to tell quickly where none can begin.
    first: [bool; 256],
}

impl Forgotten {
    pub(crate) fn new<'a>(ids: impl IntoIterator<Item = &'a [u8; 16]>) -> Self {
        let mut forgotten = Self {
            ids: BTreeSet::new(),
            text: BTreeSet::new(),
            first: [false; 256],
        };
        for id in ids {
            forgotten.add(*id);
        }
        forgotten
    }

    fn add(&mut self, id: [u8; 16]) -> bool {
        let hex = id.iter().map(|byte| format!("{byte:02x}")).collect();
        self.text.insert(hex);
        self.first[usize::from(id[0])] = true;
        self.ids.insert(id)
    }

    /// Whether a key or its value names something that is forgotten. Bytes are searched and not
    /// unpacked, so that this holds for records of newer versions too.
    pub(crate) fn touches(&self, key: &str, value: &Value) -> bool {
        if self.ids.is_empty() {
            return false;
        }
        let named = |text: &str| {
            let mut parts = text.split(['/', '@']);
            parts.any(|part| self.text.contains(part))
        };
        let in_value = match value {
            Value::Bytes(bytes) => bytes.windows(16).any(|window| {
                let id = window.first_chunk::<16>();
                self.first[usize::from(window[0])] && id.is_some_and(|id| self.ids.contains(id))
            }),
            Value::Text(text) => named(text),
            _ => false,
        };
        in_value || named(key)
    }

    /// Forgets also what stands under an id of its own and names something forgotten: a mark on a page
    /// that goes, and then the reply to that mark.
    pub(crate) fn spread<'a, I: Iterator<Item = (&'a String, &'a Value)>>(
        &mut self,
        values: impl Fn() -> I,
    ) {
        let mut more = !self.ids.is_empty();
        while more {
            more = false;
            for (key, value) in values() {
                if let Some(id) = own_id(key).filter(|_| self.touches(key, value)) {
                    more |= self.add(id);
                }
            }
        }
    }
}

/// The id of what a record is about by itself.
fn own_id(key: &str) -> Option<[u8; 16]> {
    const OWN: [&str; 6] = ["mark", "amend", "reply", "practised", "setup", "ask"];
    let (head, id) = key.split_once('/')?;
    let id: units::PageId = id.parse().ok().filter(|_| OWN.contains(&head))?;
    Some(id.0)
}

/// The changes of a seed: all that holds, but for what is left out.
pub(crate) fn seed(
    merged: &Merged<'_>,
    author: DeviceId,
    left_out: impl Fn(&str, &Value) -> bool,
) -> Vec<Vec<Put>> {
    let mut parts = Parts::new(merged.time);
    for (key, time, value) in merged.registers() {
        if !left_out(key, value) {
            parts.register(key, time, value);
        }
    }
    for (key, maker, value) in merged.records() {
        if !left_out(key, value) && !key.starts_with("by/") {
            parts.record(key, value, (maker != author).then_some(maker));
        }
    }
    parts.done()
}

/// What a device carries over from the documents that it may speak for into its own: of late keys, or
/// of all where that is not known, what the new founding lacks or has from an earlier time.
pub(crate) fn carried(
    docs: &[(&DocId, &AuthorDoc)],
    late: &BTreeSet<&str>,
    into: &Merged<'_>,
    book: BookKind,
    author: DeviceId,
    forgotten: &Forgotten,
) -> (Vec<Vec<Put>>, u32) {
    let mut best: BTreeMap<&str, (u64, DeviceId, &Value)> = BTreeMap::new();
    for (id, doc) in docs {
        for (key, value) in doc.values() {
            let plain = !key.ends_with('@') && key != SCHEMA_KEY && key != TIME_KEY;
            if !plain || key.starts_with("by/") || !late.contains(key.as_str()) {
                continue;
            }
            let time = match doc.values().get(&time_key(key)) {
                Some(Value::Uint(time)) => *time,
                _ => 0,
            };
            let held = best.entry(key).or_insert((time, id.author, value));
            if time > held.0 {
                *held = (time, id.author, value);
            }
        }
    }
    let mut parts = Parts::new(into.time);
    let mut dropped = 0;
    for (key, (time, maker, value)) in best {
        if forgotten.touches(key, value) {
            dropped += 1;
            continue;
        }
        let register = match kind(book, key) {
            Some(kind) => kind == Kind::Register,
            None => time > 0,
        };
        if register {
            if into.written_at(key) < time {
                parts.register(key, time, value);
            }
        } else if into.record(key).is_empty() && !is_taken_back(into, key) {
            let other = maker != author && book == BookKind::Tutor;
            parts.record(key, value, other.then_some(maker));
        }
    }
    (parts.done(), dropped)
}

/// Whether a mark was removed, or an amendment taken back, before the books were founded anew.
fn is_taken_back(merged: &Merged<'_>, key: &str) -> bool {
    let back = match key.split_once('/') {
        Some(("mark", id)) => format!("unmark/{id}"),
        Some(("amend", id)) => format!("unamend/{id}"),
        Some(("ask", id)) => format!("unask/{id}"),
        _ => return false,
    };
    !merged.record(&back).is_empty()
}

/// Puts gathered into changes of bounded size.
struct Parts {
    time: u64,
    done: Vec<Vec<Put>>,
    open: Vec<Put>,
    bytes: usize,
}

impl Parts {
    fn new(time: u64) -> Self {
        Self {
            time: time + 1,
            done: Vec::new(),
            open: Vec::new(),
            bytes: 0,
        }
    }

    fn register(&mut self, key: &str, time: u64, value: &Value) {
        self.push(vec![
            (time_key(key), Value::Uint(time)),
            (key.to_owned(), value.clone()),
        ]);
    }

    fn record(&mut self, key: &str, value: &Value, maker: Option<DeviceId>) {
        let mut puts = vec![(key.to_owned(), value.clone())];
        // Those of a page's readings and texts stand under longer keys, or tell no maker.
        let told = ["page/", "model/", "mark/", "amend/", "reply/", "ask/"];
        if let Some((maker, prefix)) =
            maker.zip(told.iter().find(|prefix| key.starts_with(**prefix)))
        {
            let by = maker_key(&key[prefix.len()..]);
            if *prefix != "model/" {
                puts.push((by, Value::Bytes(maker.0.to_vec())));
            }
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
