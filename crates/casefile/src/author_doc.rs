//! The Automerge document of one device in one book.

use std::collections::{BTreeMap, BTreeSet};

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, Change, ROOT, ScalarValue};

use crate::chunk::{self, Chunk};
use crate::grammar::{self, Next};
use crate::merged::{SCHEMA, SCHEMA_KEY};
use crate::{Accepted, DocId, MAX_CHANGE_BYTES, Refused, SignedChange, WriteRefused};

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

/// A change as it was signed.
#[derive(Debug, Clone)]
struct Kept {
    format: u8,
    bytes: Vec<u8>,
    /// Bytes of all changes up to this one.
    upto: u64,
}

#[derive(Debug, Clone)]
pub(crate) struct AuthorDoc {
    actor: ActorId,
    changes: Vec<Kept>,
    /// What the changes come to: the last value of every key. Values that the schema never uses are left
    /// out.
    values: BTreeMap<String, Value>,
    /// What must follow; `None` once something came that only a newer version of the program reads.
    next: Option<Next>,
    /// The document itself, which only its author needs.
    document: Option<Automerge>,
}

impl AuthorDoc {
    pub(crate) fn new(id: &DocId) -> Self {
        // The actor follows from the document's name, so that the same edits make the same bytes.
        let hash = blake3::hash(&id.encode());
        let actor = ActorId::from(&hash.as_bytes()[..16]);
        Self {
            changes: Vec::new(),
            values: BTreeMap::new(),
            next: Some(Next::first(actor.clone())),
            document: None,
            actor,
        }
    }

    /// Number of changes, which is the sequence number of the last.
    pub(crate) fn len(&self) -> u64 {
        self.changes.len() as u64
    }

    /// Bytes of all changes.
    pub(crate) fn bytes(&self) -> u64 {
        self.changes.last().map_or(0, |kept| kept.upto)
    }

    /// Bytes of the changes beyond this number.
    pub(crate) fn bytes_beyond(&self, seq: u64) -> u64 {
        let before = self.kept(seq.min(self.len()));
        self.bytes() - before.map_or(0, |kept| kept.upto)
    }

    /// BLAKE3 of the bytes of a change; of none for number 0 and for those that are not here.
    pub(crate) fn digest(&self, seq: u64) -> [u8; 32] {
        let kept = self.kept(seq);
        kept.map_or([0; 32], |kept| *blake3::hash(&kept.bytes).as_bytes())
    }

    fn kept(&self, seq: u64) -> Option<&Kept> {
        let before = usize::try_from(seq.checked_sub(1)?).ok()?;
        self.changes.get(before)
    }

    /// The bytes of every change.
    pub(crate) fn changes(&self) -> impl Iterator<Item = &[u8]> {
        self.changes.iter().map(|kept| kept.bytes.as_slice())
    }

    /// Every key with its value.
    pub(crate) fn values(&self) -> &BTreeMap<String, Value> {
        &self.values
    }

    /// Whether something here is for a newer version of the program only.
    pub(crate) fn is_newer(&self) -> bool {
        self.next.is_none()
    }

    /// The keys that changes beyond this number set.
    pub(crate) fn keys_beyond(&self, seq: u64) -> BTreeSet<&str> {
        let beyond = self
            .changes
            .iter()
            .skip(usize::try_from(seq).unwrap_or(usize::MAX));
        let chunks = beyond.filter_map(|kept| chunk::read(&kept.bytes));
        chunks
            .flat_map(|chunk| chunk.puts.into_iter().map(|put| put.key))
            .collect()
    }

    /// Takes a change whose author and signature have been checked.
    pub(crate) fn accept(&mut self, change: &SignedChange) -> Outcome {
        let expected = self.len() + 1;
        let Some(before) = change.seq.checked_sub(1) else {
            return Err(Refused::BadChange("sequence numbers begin at 1"));
        };
        if change.seq > expected {
            return Err(Refused::Gap { expected });
        }
        if change.seq < expected {
            let known = &self.changes[before as usize];
            return match known.bytes == change.bytes && known.format == change.format {
                true => Ok(Accepted::Known),
                false => Err(Refused::Forked { seq: change.seq }),
            };
        }
        match &mut self.next {
            Some(next) if change.format == SignedChange::FORMAT => {
                let (chunk, hash) = next.parse(&change.bytes)?;
                next.advance(&chunk, hash);
                take(&mut self.values, chunk);
            }
            // Kept and passed on unopened, and so is whatever its author wrote after it.
            next => *next = None,
        }
        self.document = None;
        self.keep(change.format, change.bytes.clone());
        Ok(Accepted::New)
    }

    /// The document of changes that were accepted before and kept since; far quicker than accepting
    /// them again.
    pub(crate) fn of_kept(id: &DocId, kept: impl IntoIterator<Item = (u8, Vec<u8>)>) -> Self {
        let mut doc = Self::new(id);
        for (format, bytes) in kept {
            match &mut doc.next {
                Some(next) if format == SignedChange::FORMAT => match chunk::read(&bytes) {
                    Some(chunk) => {
                        next.pass(&chunk);
                        take(&mut doc.values, chunk);
                    }
                    None => doc.next = None,
                },
                next => *next = None,
            }
            doc.keep(format, bytes);
        }
        let last = doc.changes.last().map(|kept| grammar::hash(&kept.bytes));
        if let (Some(next), Some(last)) = (&mut doc.next, last) {
            match last {
                Ok(hash) => next.set_head(hash),
                Err(_) => doc.next = None,
            }
        }
        doc
    }

    /// The document as it was after this many changes.
    pub(crate) fn upto(&self, id: &DocId, seq: u64) -> Self {
        let kept = self.changes.iter();
        let kept = kept.take(usize::try_from(seq).unwrap_or(usize::MAX));
        Self::of_kept(id, kept.map(|kept| (kept.format, kept.bytes.clone())))
    }

    /// Writes all of the values as one change and hands back its bytes.
    pub(crate) fn write(&mut self, puts: Vec<Put>) -> Result<Vec<u8>, WriteRefused> {
        let newer = |schema: &Value| matches!(schema, Value::Uint(schema) if *schema > SCHEMA);
        let Some(next) = &mut self.next else {
            return Err(WriteRefused::Newer);
        };
        if self.values.get(SCHEMA_KEY).is_some_and(newer) {
            return Err(WriteRefused::Newer);
        }
        let broken = |error: &dyn core::fmt::Display| WriteRefused::Document(error.to_string());
        let document = match &mut self.document {
            Some(document) => document,
            none => {
                let kept = self.changes.iter();
                let changes: Result<Vec<Change>, _> = kept
                    .map(|kept| Change::try_from(kept.bytes.as_slice()))
                    .collect();
                let mut document = Automerge::new().with_actor(self.actor.clone());
                document
                    .apply_changes(changes.map_err(|error| broken(&error))?)
                    .map_err(|error| broken(&error))?;
                none.insert(document)
            }
        };
        let mut transaction = document.transaction();
        for (key, value) in puts {
            // A failure drops the transaction, which takes it back.
            transaction
                .put(ROOT, key, scalar(value))
                .map_err(|error| broken(&error))?;
        }
        transaction.commit_with(CommitOptions::default().with_time(0));
        let change = document
            .get_last_local_change()
            .ok_or_else(|| broken(&"no change was made"))?;
        let bytes = change.raw_bytes().to_vec();
        let chunk = chunk::read(&bytes).ok_or_else(|| broken(&"it sets too many values"));
        // Others would refuse it, and whatever comes after it.
        let sound = chunk.and_then(|chunk| match next.follows(&chunk) {
            Ok(()) if bytes.len() <= MAX_CHANGE_BYTES => Ok(chunk),
            Ok(()) => Err(broken(&"it is too large")),
            Err(refused) => Err(broken(&refused)),
        });
        match sound {
            Ok(chunk) => {
                next.advance(&chunk, change.hash());
                take(&mut self.values, chunk);
            }
            Err(refused) => {
                // Made again from the changes when next written.
                self.document = None;
                return Err(refused);
            }
        }
        self.keep(SignedChange::FORMAT, bytes.clone());
        Ok(bytes)
    }

    fn keep(&mut self, format: u8, bytes: Vec<u8>) {
        let upto = self.bytes() + bytes.len() as u64;
        self.changes.push(Kept {
            format,
            bytes,
            upto,
        });
    }
}

fn take(values: &mut BTreeMap<String, Value>, chunk: Chunk<'_>) {
    for put in chunk.puts {
        match put.value {
            Some(value) => values.insert(put.key.to_owned(), value),
            None => values.remove(put.key),
        };
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
    use automerge::ReadDoc;
    use units::{DeviceId, PupilId};

    use super::*;
    use crate::{BookKind, FoundingId};

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

    #[test]
    fn the_values_at_hand_are_those_of_the_document() {
        let id = DocId {
            pupil: PupilId([1; 16]),
            book: BookKind::Tutor,
            founding: FoundingId::FIRST,
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
        let loaded = Automerge::load(&doc.document.as_ref().unwrap().save()).unwrap();
        let held: BTreeMap<String, Value> = loaded
            .keys(ROOT)
            .filter_map(|key| {
                let (value, _) = loaded.get(ROOT, key.as_str()).ok()??;
                Some((key, known(value)?))
            })
            .collect();
        assert_eq!(doc.values(), &held);
        assert_eq!(held.len(), 7 + 40 + 3 + 1 + 1 + 2);
        let again = doc.upto(&id, 40);
        assert_eq!((again.values(), again.len()), (&held, 40));
        let half = doc.upto(&id, 20);
        assert_eq!(half.digest(20), doc.digest(20));
        assert_eq!(half.values()["stamp"], Value::Uint(19));
    }
}
