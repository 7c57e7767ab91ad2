//! Founding the books anew: what goes into the seed, and, in [`carrying`], what a device carries over that
//! wrote on before it heard of it.
//!
//! An Automerge history cannot be shortened. So a device of the tutor's writes the present state into
//! fresh documents, and everybody lets go of the old ones once the new ones are here. Only ids stand in
//! the log: what is forgotten goes with the old documents.

pub(crate) mod carrying;

use std::collections::{BTreeMap, BTreeSet};

use units::DeviceId;

use crate::author_doc::{Put, Value};
use crate::merged::{LAST_TIME, Merged, SCHEMA, SCHEMA_KEY, TIME_KEY, maker_key, time_key};

/// Most bytes and keys of one change of a seed: well below what a change may hold.
const CHANGE_BYTES: usize = 400_000;
const CHANGE_KEYS: usize = 1_500;

/// The changes of a seed: all that holds, but for what is left out; and the pages that its author took out, ever.
pub(crate) fn seed(
    merged: &Merged<'_>,
    author: DeviceId,
    taken_out: &BTreeSet<&str>,
    left_out: impl Fn(&str, &Value) -> bool,
) -> Vec<Vec<Put>> {
    let keys = merged.records().map(|(key, ..)| key);
    let mut parts = Parts::new(merged.time, keys);
    for (key, time, value) in merged.registers() {
        if !left_out(key, value) {
            parts.register(key, time, value);
        }
    }
    for (key, maker, value) in merged.records() {
        if !left_out(key, value) && !taken_out.contains(key) {
            parts.record(key, value, (maker != author).then_some(maker));
        }
    }
    for key in taken_out {
        parts.record(key, &Value::Flag(true), None);
    }
    parts.done()
}

/// Whether this says that a page is taken out. The page goes with the next founding, and what says so with it;
/// but should that one turn out not to hold, the page is there again. So whoever said it goes on saying it.
pub(crate) fn is_out(key: &str) -> bool {
    key.starts_with("gone/")
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

    fn register(&mut self, key: &str, time: u64, value: &Value) {
        let time = time.min(LAST_TIME);
        self.push(vec![
            (time_key(key), Value::Uint(time)),
            (key.to_owned(), value.clone()),
        ]);
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
