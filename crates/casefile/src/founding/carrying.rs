//! What a device carries over into a new founding, and how it knows again what it wrote.
//!
//! What a device wrote may stand in the seed of another alone from then on. Should that one be removed, and its
//! seed with it, whoever wrote it brings it back; and nothing else, for a removed device may have said what it
//! liked, in anybody's name. So a device that follows a founding keeps a fingerprint of everything of its
//! own that it leaves to the seed. What has such a fingerprint it wrote, wherever it stands.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use units::DeviceId;

use super::{Parts, is_out};
use crate::author_doc::{AuthorDoc, Put, Value};
use crate::forgotten::Forgotten;
use crate::merged::{
    Clock, Kind, LAST_TIME, Merged, OWN_KEYS, SCHEMA_KEY, TIME_KEY, kind, maker, time_key,
};
use crate::{BookKind, DocId};

/// A document that is left for a new founding.
pub(crate) struct Left<'a> {
    pub(crate) id: &'a DocId,
    pub(crate) doc: &'a AuthorDoc,
    /// Whether somebody who belongs vouches for all of it.
    pub(crate) vouched: bool,
}

/// A device on its way into a new founding.
pub(crate) struct Carrying<'a> {
    pub(crate) device: DeviceId,
    /// Which book it writes.
    pub(crate) book: BookKind,
    /// All documents of the founding that it leaves.
    pub(crate) left: Vec<Left<'a>>,
    /// The keys that whoever founded anew may not have known.
    pub(crate) late: BTreeSet<&'a str>,
    pub(crate) clock: Clock,
    pub(crate) forgotten: &'a Forgotten,
    /// The new founding, as far as it is here.
    pub(crate) into: &'a Merged<'a>,
    /// Its seed. What stands elsewhere may be cut off with whoever carried it over.
    pub(crate) seed: &'a AuthorDoc,
}

/// What is carried over.
pub(crate) struct Carried {
    pub(crate) parts: Vec<Vec<Put>>,
    /// How many late edits are let go because they touch what is forgotten.
    pub(crate) dropped: u32,
}

/// A value that comes late, with its place among the writes to its register.
struct Late<'a> {
    rank: (u64, bool, DeviceId),
    maker: DeviceId,
    value: &'a Value,
}

impl<'a> Carrying<'a> {
    /// What the device writes into the new founding: of late keys, as far as it may speak for them, what is
    /// lacking there or is from an earlier time; and the fingerprints of what it leaves to the seed. From documents
    /// for which nobody vouches, and a family's device from the tutor's book, it takes only what it wrote itself.
    pub(crate) fn carried(&self) -> Carried {
        let known = self.known();
        // Its own apart, for what others said later may be cut off with them.
        let mut best: BTreeMap<(&str, bool), Late<'_>> = BTreeMap::new();
        let mut left_to_seed = BTreeSet::new();
        for left in &self.left {
            for (key, value) in left.doc.values().iter().filter(|(key, _)| is_plain(key)) {
                let time = time_of(left.doc, key, self.clock);
                let print = Fingerprint::of(key, time, value);
                let own = left.id.author == self.device || known.contains(&print);
                if own && self.seed_has(key) == Some((time, value)) {
                    left_to_seed.insert(print);
                }
                let said_again = left.id.author == self.device && is_out(key);
                if (self.late.contains(key.as_str()) || said_again) && self.may_say(left, key, own)
                {
                    keep_best(best.entry((key, own)), self.late(left, key, value));
                }
            }
        }
        let mut parts = Parts::new(self.into.time, best.keys().map(|(key, _)| *key));
        let mut lacking: BTreeMap<&str, Late<'_>> = BTreeMap::new();
        let mut dropped = BTreeSet::new();
        for ((key, own), late) in best {
            let said_again = late.maker == self.device && is_out(key);
            if self.forgotten.touches(key, late.value) && !said_again {
                dropped.insert(key);
            } else if !self.is_taken_back(key, own) && !self.is_held(key, &late, own) {
                // Its own comes second, and stays where the other is a record or was written before it.
                match lacking.entry(key) {
                    Entry::Occupied(held) if held.get().rank.0 > late.rank.0 => {}
                    Entry::Occupied(mut held) => drop(held.insert(late)),
                    Entry::Vacant(place) => drop(place.insert(late)),
                }
            }
        }
        for (key, late) in lacking {
            let other = late.maker != self.device && self.book != BookKind::Home;
            match self.is_register(key, &late) {
                true => parts.register(key, late.rank.0, late.value),
                false => parts.record(key, late.value, other.then_some(late.maker)),
            }
        }
        parts.fingerprints(left_to_seed);
        Carried {
            parts: parts.done(),
            dropped: u32::try_from(dropped.len()).unwrap_or(u32::MAX),
        }
    }

    /// The fingerprints that the device kept when it followed the founding that it leaves now.
    fn known(&self) -> BTreeSet<Fingerprint> {
        let own = self
            .left
            .iter()
            .filter(|left| left.id.author == self.device);
        let values = own.flat_map(|left| left.doc.values());
        let kept = values.filter_map(|(key, value)| match value {
            Value::Bytes(bytes) if key.starts_with(OWN_KEYS) => Some(bytes),
            _ => None,
        });
        let prints = kept.flat_map(|bytes| bytes.as_chunks().0);
        prints.map(|print| Fingerprint(*print)).collect()
    }

    /// Whether the device may carry over what a document says under a key.
    fn may_say(&self, left: &Left<'_>, key: &str, own: bool) -> bool {
        // Nobody says in another book by way of this device what it may not say there itself.
        let foreign = left.id.book != self.book;
        if foreign && kind(left.id.book, key).is_none() {
            return false;
        }
        let only_own = !left.vouched || foreign && self.book == BookKind::Home;
        !only_own || own && kind(self.book, key).is_some()
    }

    fn late(&self, left: &Left<'a>, key: &str, value: &'a Value) -> Late<'a> {
        let time = match kind(left.id.book, key) {
            Some(Kind::Record) => 0,
            _ => time_of(left.doc, key, self.clock),
        };
        Late {
            rank: (time, left.id.book == BookKind::Tutor, left.id.author),
            maker: maker(left.id, left.doc, key),
            value,
        }
    }

    fn is_register(&self, key: &str, late: &Late<'_>) -> bool {
        match kind(self.book, key) {
            Some(kind) => kind == Kind::Register,
            None => late.rank.0 > 0,
        }
    }

    /// What the seed says under a key, and from when.
    fn seed_has(&self, key: &str) -> Option<(u64, &Value)> {
        let value = self.seed.values().get(key)?;
        Some((time_of(self.seed, key, self.into.clock), value))
    }

    /// Whether the new founding has it. Of what the device wrote itself the seed must have it.
    fn is_held(&self, key: &str, late: &Late<'_>, own: bool) -> bool {
        let time = late.rank.0;
        match (self.is_register(key, late), own) {
            (true, true) => self
                .seed_has(key)
                .is_some_and(|(at, value)| at > time || at == time && value == late.value),
            (true, false) => self.into.written_at(key) >= time,
            (false, true) => self.seed.values().get(key) == Some(late.value),
            (false, false) => !self.into.record(key).is_empty(),
        }
    }

    /// Whether a mark was removed, or an amendment or practice taken back, before the books were founded anew. Of
    /// what the device wrote itself the seed must say so.
    fn is_taken_back(&self, key: &str, own: bool) -> bool {
        let back = match key.split_once('/') {
            Some(("mark" | "remark", id)) => format!("unmark/{id}"),
            Some(("amend", id)) => format!("unamend/{id}"),
            Some(("ask", id)) => format!("unask/{id}"),
            Some(("practised", id)) => format!("unpractised/{id}"),
            _ => return false,
        };
        match own {
            true => self.seed.values().contains_key(&back),
            false => !self.into.record(&back).is_empty(),
        }
    }
}

/// By this a device knows again what it wrote: of a key, its logical time and its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Fingerprint([u8; 16]);

impl Fingerprint {
    fn of(key: &str, time: u64, value: &Value) -> Self {
        let mut hasher = blake3::Hasher::new_derive_key("pothook/casefile/own");
        hasher.update(&(key.len() as u64).to_le_bytes());
        hasher.update(key.as_bytes());
        hasher.update(&time.to_le_bytes());
        match value {
            Value::Bytes(bytes) => hasher.update(&[1]).update(bytes),
            Value::Text(text) => hasher.update(&[2]).update(text.as_bytes()),
            Value::Int(number) => hasher.update(&[3]).update(&number.to_le_bytes()),
            Value::Uint(number) => hasher.update(&[4]).update(&number.to_le_bytes()),
            Value::Flag(flag) => hasher.update(&[5, u8::from(*flag)]),
            Value::Nothing => hasher.update(&[6]),
        };
        let hash = hasher.finalize();
        let (print, _) = hash.as_bytes().split_at(16);
        Self(print.try_into().expect("16 bytes"))
    }
}

impl Parts {
    /// Keeps fingerprints, so many under one key.
    fn fingerprints(&mut self, prints: BTreeSet<Fingerprint>) {
        const UNDER_ONE_KEY: usize = 2_048;
        let prints: Vec<[u8; 16]> = prints.into_iter().map(|Fingerprint(print)| print).collect();
        for (number, prints) in prints.chunks(UNDER_ONE_KEY).enumerate() {
            let bytes = Value::Bytes(prints.concat());
            self.push(vec![(format!("{OWN_KEYS}{number}"), bytes)]);
        }
    }
}

/// Whether something is said under this key, and not about the document or what else stands in it.
fn is_plain(key: &str) -> bool {
    let about = [SCHEMA_KEY, TIME_KEY].contains(&key);
    !(about || key.ends_with('@') || key.starts_with("by/") || key.starts_with(OWN_KEYS))
}

/// The logical time that a document tells of a register, as far as it is believed; 0 where it tells none.
fn time_of(doc: &AuthorDoc, key: &str, clock: Clock) -> u64 {
    match doc.values().get(&time_key(key)) {
        Some(Value::Uint(time)) => clock.believed(*time).min(LAST_TIME),
        _ => 0,
    }
}

fn keep_best<'a>(entry: Entry<'_, (&str, bool), Late<'a>>, late: Late<'a>) {
    match entry {
        Entry::Vacant(place) => drop(place.insert(late)),
        Entry::Occupied(mut held) if late.rank.0 > 0 && late.rank > held.get().rank => {
            held.insert(late);
        }
        Entry::Occupied(_) => {}
    }
}
