//! The Automerge document of one device in one book.

use std::collections::BTreeMap;

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, Change, ROOT, ReadDoc, ScalarValue};

use crate::grammar::Next;
use crate::merged::{SCHEMA, SCHEMA_KEY};
use crate::{Accepted, DocId, Refused, SignedChange, WriteRefused};

/// A value as the schema knows it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Bytes(Vec<u8>),
    Text(String),
    Int(i64),
    Uint(u64),
    Flag(bool),
    Nothing,
}

/// What became of a change.
pub(crate) type Outcome = Result<Accepted, Refused>;

/// A key with its new value.
pub(crate) type Put = (String, Value);

#[derive(Debug, Clone)]
pub(crate) struct AuthorDoc {
    document: Automerge,
    /// What the document holds, at hand for reading; values that the schema never uses are left
    /// out.
    values: BTreeMap<String, Value>,
    place: Place,
}

/// How far the author's changes have come.
#[derive(Debug, Clone)]
struct Place {
    /// BLAKE3 of every change so far, to tell a repeat from a fork.
    digests: Vec<[u8; 32]>,
    next: Next,
}

impl AuthorDoc {
    pub(crate) fn new(id: &DocId) -> Self {
        // The actor follows from the document's name, so that the same edits make the same bytes.
        let hash = blake3::hash(&id.encode());
        let actor = ActorId::from(&hash.as_bytes()[..16]);
        Self {
            document: Automerge::new().with_actor(actor.clone()),
            values: BTreeMap::new(),
            place: Place {
                digests: Vec::new(),
                next: Next::first(actor),
            },
        }
    }

    /// Number of changes, which is the sequence number of the last.
    pub(crate) fn len(&self) -> u64 {
        self.place.digests.len() as u64
    }

    /// Every key with its value.
    pub(crate) fn values(&self) -> &BTreeMap<String, Value> {
        &self.values
    }

    /// Takes changes whose author and signatures have been checked, in this order. All new ones
    /// are applied together, which costs little more than one.
    pub(crate) fn accept_all(&mut self, changes: &[&SignedChange]) -> Vec<Outcome> {
        let mut place = self.place.clone();
        let (mut fresh, mut keys) = (Vec::new(), Vec::new());
        let outcomes = changes.iter().map(|change| {
            let new = place.check(change)?;
            if let Some((parsed, set)) = new {
                fresh.push(parsed);
                keys.extend(set);
                return Ok(Accepted::New);
            }
            Ok(Accepted::Known)
        });
        let outcomes: Vec<Outcome> = outcomes.collect();
        if fresh.is_empty() {
            return outcomes;
        }
        // Applied to a copy, so that a refusal leaves this document as it was.
        let mut document = self.document.clone();
        if document.apply_changes(fresh).is_err() {
            let refuse = |outcome| match outcome {
                Ok(Accepted::New) => Err(Refused::BadChange("the document refuses it")),
                other => other,
            };
            return outcomes.into_iter().map(refuse).collect();
        }
        self.document = document;
        self.place = place;
        self.read(keys);
        outcomes
    }

    /// Writes all of the values as one change and hands back its bytes.
    pub(crate) fn write(&mut self, puts: Vec<Put>) -> Result<Vec<u8>, WriteRefused> {
        if matches!(self.values.get(SCHEMA_KEY), Some(Value::Uint(schema)) if *schema > SCHEMA) {
            return Err(WriteRefused::Newer);
        }
        let broken = |error: &dyn core::fmt::Display| WriteRefused::Document(error.to_string());
        let mut transaction = self.document.transaction();
        for (key, value) in puts {
            // A failure drops the transaction, which takes it back.
            transaction
                .put(ROOT, key, scalar(value))
                .map_err(|error| broken(&error))?;
        }
        transaction.commit_with(CommitOptions::default().with_time(0));
        let change = self
            .document
            .get_last_local_change()
            .ok_or_else(|| broken(&"no change was made"))?;
        let bytes = change.raw_bytes().to_vec();
        let keys = self.place.advance(&change);
        self.read(keys);
        Ok(bytes)
    }

    /// Brings the values of these keys up to date.
    fn read(&mut self, keys: Vec<String>) {
        for key in keys {
            let found = self.document.get(ROOT, key.as_str()).ok().flatten();
            match found.and_then(|(value, _)| known(value)) {
                Some(value) => self.values.insert(key, value),
                None => self.values.remove(&key),
            };
        }
    }
}

impl Place {
    /// The change if it is new and may follow, with the keys that it sets; `None` if it is known.
    fn check(&mut self, change: &SignedChange) -> Result<Option<(Change, Vec<String>)>, Refused> {
        let expected = self.digests.len() as u64 + 1;
        if change.seq == 0 {
            return Err(Refused::BadChange("sequence numbers begin at 1"));
        }
        if change.seq > expected {
            return Err(Refused::Gap { expected });
        }
        if change.seq < expected {
            let known = self.digests[change.seq as usize - 1];
            return match known == *blake3::hash(&change.bytes).as_bytes() {
                true => Ok(None),
                false => Err(Refused::Forked { seq: change.seq }),
            };
        }
        let parsed = self.next.parse(&change.bytes)?;
        let keys = self.advance(&parsed);
        Ok(Some((parsed, keys)))
    }

    fn advance(&mut self, change: &Change) -> Vec<String> {
        self.digests
            .push(*blake3::hash(change.raw_bytes()).as_bytes());
        self.next.advance(change)
    }
}

fn known(value: automerge::Value<'_>) -> Option<Value> {
    let automerge::Value::Scalar(scalar) = value else {
        return None;
    };
    match scalar.into_owned() {
        ScalarValue::Bytes(bytes) => Some(Value::Bytes(bytes)),
        ScalarValue::Str(text) => Some(Value::Text(text.into())),
        ScalarValue::Int(number) => Some(Value::Int(number)),
        ScalarValue::Uint(number) => Some(Value::Uint(number)),
        ScalarValue::Boolean(flag) => Some(Value::Flag(flag)),
        ScalarValue::Null => Some(Value::Nothing),
        _ => None,
    }
}

fn scalar(value: Value) -> ScalarValue {
    match value {
        Value::Bytes(bytes) => ScalarValue::Bytes(bytes),
        Value::Text(text) => ScalarValue::Str(text.into()),
        Value::Int(number) => ScalarValue::Int(number),
        Value::Uint(number) => ScalarValue::Uint(number),
        Value::Flag(flag) => ScalarValue::Boolean(flag),
        Value::Nothing => ScalarValue::Null,
    }
}

#[cfg(test)]
mod tests {
    use units::{DeviceId, PupilId};

    use super::*;
    use crate::BookKind;

    #[test]
    fn the_values_at_hand_are_those_of_the_document() {
        let id = DocId {
            pupil: PupilId([1; 16]),
            book: BookKind::Tutor,
            author: DeviceId([2; 32]),
        };
        let mut doc = AuthorDoc::new(&id);
        for round in 0..40_u64 {
            doc.write(vec![
                (format!("text/{}", round % 7), Value::Text("a".repeat(3))),
                (format!("page/{round}"), Value::Bytes(vec![round as u8; 9])),
                (format!("looked/{}", round % 3), Value::Int(-1)),
                ("stamp".into(), Value::Uint(round)),
                ("unmark/1".into(), Value::Flag(round % 2 == 0)),
                (format!("text/{}", 10 + round % 2), Value::Nothing),
            ])
            .unwrap();
        }
        let loaded = Automerge::load(&doc.document.save()).unwrap();
        let held: BTreeMap<String, Value> = loaded
            .keys(ROOT)
            .filter_map(|key| {
                let (value, _) = loaded.get(ROOT, key.as_str()).ok()??;
                Some((key, known(value)?))
            })
            .collect();
        assert_eq!(doc.values(), &held);
        assert_eq!(held.len(), 7 + 40 + 3 + 1 + 1 + 2);
    }
}
