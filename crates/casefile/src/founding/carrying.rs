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
    own: bool,
    value: &'a Value,
}

impl<'a> Carrying<'a> {
    /// What the device writes into the new founding: of late keys, as far as it may speak for them, what is
    /// lacking there or is from an earlier time; and the fingerprints of what it leaves to the seed. From documents
    /// for which nobody vouches, and a family's device from the tutor's book, it takes only what it wrote itself.
    pub(crate) fn carried(&self) -> Carried {
        let known = self.known();
        let mut best: BTreeMap<&str, Late<'_>> = BTreeMap::new();
        let mut left_to_seed = BTreeSet::new();
        for left in &self.left {
            for (key, value) in left.doc.values().iter().filter(|(key, _)| is_plain(key)) {
                let time = time_of(left.doc, key);
                let print = Fingerprint::of(key, time, value);
                let own = left.id.author == self.device || known.contains(&print);
                let in_seed =
                    self.seed.values().get(key) == Some(value) && time_of(self.seed, key) == time;
                if own && in_seed {
                    left_to_seed.insert(print);
                }
                let said_again = left.id.author == self.device && is_out(key);
                if (self.late.contains(key.as_str()) || said_again) && self.may_say(left, key, own)
                {
                    let late = self.late(left, key, value, own);
                    keep_best(best.entry(key), late);
                }
            }
        }
        let mut parts = Parts::new(self.into.time, best.keys().copied());
        let mut dropped = 0;
        for (key, late) in best {
            let said_again = late.maker == self.device && is_out(key);
            if self.forgotten.touches(key, late.value) && !said_again {
                dropped += 1;
            } else if !is_taken_back(self.into, key) && !self.is_held(key, &late) {
                let other = (late.maker != self.device && self.book != BookKind::Home)
                    .then_some(late.maker);
                match self.is_register(key, &late) {
                    true => parts.register(key, late.rank.0, late.value),
                    false => parts.record(key, late.value, other),
                }
            }
        }
        parts.fingerprints(left_to_seed);
        let parts = parts.done();
        Carried { parts, dropped }
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

    fn late(&self, left: &Left<'a>, key: &str, value: &'a Value, own: bool) -> Late<'a> {
        let time = match kind(left.id.book, key) {
            Some(Kind::Record) => 0,
            _ => self.clock.believed(time_of(left.doc, key)).min(LAST_TIME),
        };
        Late {
            rank: (time, left.id.book == BookKind::Tutor, left.id.author),
            maker: maker(left.id, left.doc, key),
            own,
            value,
        }
    }

    fn is_register(&self, key: &str, late: &Late<'_>) -> bool {
        match kind(self.book, key) {
            Some(kind) => kind == Kind::Register,
            None => late.rank.0 > 0,
        }
    }

    /// Whether the new founding has it. Of what the device wrote itself the seed must have it.
    fn is_held(&self, key: &str, late: &Late<'_>) -> bool {
        match (self.is_register(key, late), late.own) {
            (true, true) => time_of(self.seed, key) >= late.rank.0,
            (true, false) => self.into.written_at(key) >= late.rank.0,
            (false, true) => self.seed.values().get(key) == Some(late.value),
            (false, false) => !self.into.record(key).is_empty(),
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

/// The logical time that a document tells of a register; 0 where it tells none.
fn time_of(doc: &AuthorDoc, key: &str) -> u64 {
    match doc.values().get(&time_key(key)) {
        Some(Value::Uint(time)) => *time,
        _ => 0,
    }
}

fn keep_best<'a>(entry: Entry<'_, &str, Late<'a>>, late: Late<'a>) {
    match entry {
        Entry::Vacant(place) => {
            place.insert(late);
        }
        Entry::Occupied(mut held) if late.rank.0 > 0 && late.rank > held.get().rank => {
            held.insert(late);
        }
        Entry::Occupied(mut held) => {
            held.get_mut().own |= late.own && held.get().value == late.value
        }
    }
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
