//! One map out of all documents: for every key the values that it has been given, best first.

use core::ops::Bound;
use std::collections::BTreeMap;

use units::DeviceId;

use crate::author_doc::{AuthorDoc, Value};
use crate::books::Books;
use crate::forgotten::Forgotten;
use crate::{BookKind, DocId, FoundingId};

/// Version of the schema that this program writes.
pub(crate) const SCHEMA: u64 = 1;
pub(crate) const SCHEMA_KEY: &str = "schema";
pub(crate) const TIME_KEY: &str = "stamp";
/// Keys that begin so hold the fingerprints by which a device knows again what it wrote.
pub(crate) const OWN_KEYS: &str = "own/";

/// A logical time that no honest writing reaches. Whatever is founded anew is not later.
pub(crate) const LAST_TIME: u64 = 1 << 53;

/// Which logical times are believed. A false one must neither end counting nor stand against whoever puts it
/// right later. So each change moves the end on by one: whoever has seen a time that is believed can
/// write a later one that is believed too. A time from beyond the end is as good as none.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Clock {
    end: u64,
}

impl Clock {
    /// The clock of the documents of a founding.
    pub(crate) fn of(books: &Books, founding: FoundingId) -> Self {
        let changes: u64 = books.of(founding).map(|(_, doc)| doc.len()).sum();
        Self {
            end: LAST_TIME + changes,
        }
    }

    /// The time, or 0.
    pub(crate) fn believed(self, time: u64) -> u64 {
        if time <= self.end { time } else { 0 }
    }
}

/// How a key merges.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// May be written again: the latest is first.
    Register,
    /// Written once: the earliest document in the order of [`DocId`] is first.
    Record,
}

/// Records whose makers a seed tells, by their ids alone where it can.
const MADE: [&str; 5] = ["page", "mark", "amend", "reply", "ask"];

/// The schema's table: how a key of a book merges; `None` where the book may not hold it.
pub(crate) fn kind(book: BookKind, key: &str) -> Option<Kind> {
    let (head, rest) = key.split_once('/').unwrap_or((key, ""));
    // None of them may stand under a key that spells where another's maker is told.
    if MADE.contains(&head) && rest.contains('/') {
        return None;
    }
    match (book, head) {
        (
            BookKind::Tutor,
            "profile" | "task" | "looked" | "remark" | "focus_end" | "target" | "device" | "start",
        ) => Some(Kind::Register),
        (BookKind::Tutor, "mark" | "unmark" | "amend" | "unamend" | "focus" | "unask") => {
            Some(Kind::Record)
        }
        (BookKind::Tutor | BookKind::Home, "text" | "minutes" | "ruling") => Some(Kind::Register),
        (BookKind::Tutor | BookKind::Home, "page" | "model" | "reading" | "gone") => {
            Some(Kind::Record)
        }
        (
            BookKind::Tutor | BookKind::Home,
            "practised" | "unpractised" | "setup" | "reply" | "ask",
        ) => Some(Kind::Record),
        (BookKind::Practice, "pupil" | "order" | "note" | "lesson") => Some(Kind::Register),
        _ => None,
    }
}

/// The place of a write among the writes to one register; the greatest holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Rank {
    time: u64,
    tutor: bool,
    author: DeviceId,
}

#[derive(Debug, Default)]
pub(crate) struct Merged<'b> {
    registers: BTreeMap<&'b str, Vec<(Rank, &'b Value)>>,
    records: BTreeMap<&'b str, Vec<(DeviceId, &'b Value)>>,
    /// Some document was written by a newer version of the program.
    pub(crate) newer: bool,
    /// The highest logical time seen.
    pub(crate) time: u64,
    pub(crate) clock: Clock,
}

impl<'b> Merged<'b> {
    pub(crate) fn of(books: &'b Books, founding: FoundingId, forgotten: &Forgotten) -> Self {
        let mut merged = Self {
            clock: Clock::of(books, founding),
            ..Self::default()
        };
        // In the order of DocId: tutor before home, lower device first.
        for (id, doc) in books.of(founding) {
            merged.take(id, doc, forgotten);
        }
        for values in merged.registers.values_mut() {
            values.sort_by_key(|(rank, _)| core::cmp::Reverse(*rank));
        }
        merged
    }

    fn take(&mut self, id: &'b DocId, doc: &'b AuthorDoc, forgotten: &Forgotten) {
        let number = |key: &str| match doc.values().get(key) {
            Some(Value::Uint(number)) => *number,
            _ => 0,
        };
        self.newer |= number(SCHEMA_KEY) > SCHEMA || doc.is_newer();
        self.time = self.time.max(self.clock.believed(number(TIME_KEY)));
        for (key, value) in doc.values() {
            if key.ends_with('@') || forgotten.touches(key, value) {
                continue;
            }
            match kind(id.book, key) {
                None => {}
                Some(Kind::Record) => {
                    let values = self.records.entry(key).or_default();
                    values.push((maker(id, doc, key), value));
                }
                Some(Kind::Register) => {
                    let time = self.clock.believed(number(&time_key(key)));
                    // What was carried over into a new founding keeps its time, which may be later than
                    // the change that carried it.
                    self.time = self.time.max(time);
                    let rank = Rank {
                        time,
                        tutor: id.book == BookKind::Tutor,
                        author: id.author,
                    };
                    let values = self.registers.entry(key).or_default();
                    values.push((rank, value));
                }
            }
        }
    }

    /// The best value of a register that the reader understands.
    pub(crate) fn register<T>(
        &self,
        key: &str,
        mut read: impl FnMut(&Value) -> Option<T>,
    ) -> Option<T> {
        let values = self.registers.get(key)?;
        values.iter().find_map(|(_, value)| read(value))
    }

    /// The rest of every register's key under a prefix.
    pub(crate) fn registers_under(&self, prefix: &str) -> impl Iterator<Item = &'b str> {
        under(&self.registers, prefix)
    }

    /// The logical time of the write that holds in a register; 0 where nothing was written.
    pub(crate) fn written_at(&self, key: &str) -> u64 {
        let values = self.registers.get(key);
        values
            .and_then(|values| values.first())
            .map_or(0, |(rank, _)| rank.time)
    }

    /// Every register with its best value and that one's logical time.
    pub(crate) fn registers(&self) -> impl Iterator<Item = (&'b str, u64, &'b Value)> {
        let all = self.registers.iter();
        all.filter_map(|(key, values)| {
            let (rank, value) = values.first()?;
            Some((*key, rank.time, *value))
        })
    }

    /// Every record with its best value and its maker.
    pub(crate) fn records(&self) -> impl Iterator<Item = (&'b str, DeviceId, &'b Value)> {
        let all = self.records.iter();
        all.filter_map(|(key, values)| {
            let (maker, value) = values.first()?;
            Some((*key, *maker, *value))
        })
    }

    /// Every key, the registers' first.
    pub(crate) fn keys(&self) -> impl Iterator<Item = &'b str> {
        self.registers.keys().chain(self.records.keys()).copied()
    }

    /// A record's values with their authors, best first; empty if there are none.
    pub(crate) fn record(&self, key: &str) -> &[(DeviceId, &'b Value)] {
        self.records.get(key).map_or(&[], Vec::as_slice)
    }

    /// The rest of every record's key under a prefix.
    pub(crate) fn records_under(&self, prefix: &str) -> impl Iterator<Item = &'b str> {
        under(&self.records, prefix)
    }
}

/// Who made a record: the document's author, unless the tutor's book carries it over from an earlier
/// founding and says who.
pub(crate) fn maker(id: &DocId, doc: &AuthorDoc, key: &str) -> DeviceId {
    let said = |shared| match doc.values().get(&maker_key(key, shared)?)? {
        Value::Bytes(bytes) => bytes.as_slice().try_into().ok().map(DeviceId),
        _ => None,
    };
    match id.book {
        BookKind::Tutor => said(true).or_else(|| said(false)).unwrap_or(id.author),
        _ => id.author,
    }
}

/// The key under which the maker of a record stands that another device carries over: by the record's id, or
/// by its whole key where other records have the same id. `None` for what tells no maker.
pub(crate) fn maker_key(key: &str, shared: bool) -> Option<String> {
    let (head, id) = key.split_once('/')?;
    // A letter model of a page is by whoever added the page.
    let head = if head == "model" { "page" } else { head };
    (MADE.contains(&head) && !id.contains('/')).then(|| match shared {
        true => format!("by/{head}/{id}"),
        false => format!("by/{id}"),
    })
}

/// The key under which the logical time of a register stands.
pub(crate) fn time_key(key: &str) -> String {
    format!("{key}@")
}

fn under<'b, T>(map: &BTreeMap<&'b str, T>, prefix: &str) -> impl Iterator<Item = &'b str> {
    map.range::<str, _>((Bound::Included(prefix), Bound::Unbounded))
        .map_while(move |(key, _)| key.strip_prefix(prefix))
}
