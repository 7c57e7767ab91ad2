//! The Automerge document of one device in one book.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ROOT, ReadDoc, ScalarValue, ScalarValueRef, ValueRef};

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

/// A key with its new value.
pub(crate) type Put = (String, Value);

#[derive(Debug, Clone)]
pub(crate) struct AuthorDoc {
    document: Automerge,
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
            digests: Vec::new(),
            next: Next::first(actor),
        }
    }

    /// Number of changes, which is the sequence number of the last.
    pub(crate) fn len(&self) -> u64 {
        self.digests.len() as u64
    }

    /// Takes a change whose author and signature have been checked.
    pub(crate) fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        let digest = *blake3::hash(&change.bytes).as_bytes();
        let expected = self.len() + 1;
        if change.seq == 0 {
            return Err(Refused::BadChange("sequence numbers begin at 1"));
        }
        if change.seq > expected {
            return Err(Refused::Gap { expected });
        }
        if change.seq < expected {
            return match self.digests[change.seq as usize - 1] == digest {
                true => Ok(Accepted::Known),
                false => Err(Refused::Forked { seq: change.seq }),
            };
        }
        let parsed = self.next.parse(&change.bytes)?;
        self.document
            .apply_changes([parsed.clone()])
            .map_err(|_| Refused::BadChange("the document refuses it"))?;
        self.digests.push(digest);
        self.next.advance(&parsed);
        Ok(Accepted::New)
    }

    /// Writes all of the values as one change and hands back its bytes.
    pub(crate) fn write(&mut self, puts: Vec<Put>) -> Result<Vec<u8>, WriteRefused> {
        if self.schema() > SCHEMA {
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
        self.next.advance(&change);
        self.digests.push(*blake3::hash(&bytes).as_bytes());
        Ok(bytes)
    }

    fn schema(&self) -> u64 {
        let found = self.document.get(ROOT, SCHEMA_KEY).ok().flatten();
        found.and_then(|(value, _)| value.as_u64()).unwrap_or(0)
    }

    /// Every key with its value, in the order of keys; values that the schema never uses are left
    /// out.
    pub(crate) fn entries(&self) -> impl Iterator<Item = (String, Value)> + '_ {
        self.document.map_range(ROOT, ..).filter_map(|item| {
            let ValueRef::Scalar(scalar) = item.value else {
                return None;
            };
            let value = match scalar {
                ScalarValueRef::Bytes(bytes) => Value::Bytes(bytes.into_owned()),
                ScalarValueRef::Str(text) => Value::Text(text.into_owned()),
                ScalarValueRef::Int(number) => Value::Int(number),
                ScalarValueRef::Uint(number) => Value::Uint(number),
                ScalarValueRef::Boolean(flag) => Value::Flag(flag),
                ScalarValueRef::Null => Value::Nothing,
                _ => return None,
            };
            Some((item.key.into_owned(), value))
        })
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
