//! Which Automerge changes may follow in a document: only such as this program writes.
//!
//! Automerge can express far more than the schema uses, and some of it is dear or ill understood:
//! a run of a billion operations takes a few bytes to send. So a change must set scalars at the
//! root, each key once and over its last value, with no clock, message or second actor in it, and
//! it must follow its author's last change directly.

use std::collections::BTreeMap;

use automerge::{ActorId, Change, ChangeHash};

use crate::chunk::{self, Chunk};
use crate::{MAX_CHANGE_BYTES, Refused};

/// What the next change of an author must look like.
#[derive(Debug, Clone)]
pub(crate) struct Next {
    actor: ActorId,
    seq: u64,
    head: Option<ChangeHash>,
    start_op: u64,
    /// For every key the operation that set it last.
    set_by: BTreeMap<String, u64>,
}

impl Next {
    pub(crate) fn first(actor: ActorId) -> Self {
        Self {
            actor,
            seq: 1,
            head: None,
            start_op: 1,
            set_by: BTreeMap::new(),
        }
    }

    /// The change in these bytes and its hash, if it may follow.
    pub(crate) fn parse<'a>(&self, bytes: &'a [u8]) -> Result<(Chunk<'a>, ChangeHash), Refused> {
        if bytes.len() > MAX_CHANGE_BYTES {
            return Err(Refused::TooLarge);
        }
        let chunk = chunk::read(bytes).ok_or(Refused::BadChange(
            "it does other things than set a bounded number of values",
        ))?;
        self.follows(&chunk)?;
        let hash = hash(bytes)?;
        // Automerge does not look at the checksum of a change that is handed to it.
        if hash.0[..4] != bytes[chunk::CHECKSUM] {
            return Err(Refused::BadChange("its checksum is wrong"));
        }
        Ok((chunk, hash))
    }

    /// Goes on to what must come after a change that was parsed or written here.
    pub(crate) fn advance(&mut self, chunk: &Chunk<'_>, hash: ChangeHash) {
        self.pass(chunk);
        self.head = Some(hash);
    }

    /// As [`Next::advance`], where more changes come at once: only the last needs its hash.
    pub(crate) fn pass(&mut self, chunk: &Chunk<'_>) {
        let keys = chunk.puts.iter().map(|put| put.key.to_owned());
        self.set_by.extend(keys.zip(self.start_op..));
        self.seq += 1;
        self.start_op += chunk.puts.len() as u64;
    }

    /// The hash of the last change that was passed.
    pub(crate) fn set_head(&mut self, hash: ChangeHash) {
        self.head = Some(hash);
    }

    /// Whether a change follows the last one directly and does what a change may do.
    pub(crate) fn follows(&self, chunk: &Chunk<'_>) -> Result<(), Refused> {
        let bad = |what| Err(Refused::BadChange(what));
        if chunk.actor != self.actor.to_bytes() {
            return bad("another actor's");
        }
        if chunk.seq != self.seq || chunk.start_op != self.start_op {
            return bad("out of sequence");
        }
        if !chunk.deps.iter().eq(self.head.iter().map(|head| &head.0)) {
            return bad("it rests on another change");
        }
        let mut keys: Vec<&str> = chunk.puts.iter().map(|put| put.key).collect();
        keys.sort_unstable();
        if !keys.is_sorted_by(|a, b| a < b) {
            return bad("it sets a key twice");
        }
        let over_last = |put: &chunk::KeyPut<'_>| put.pred == self.set_by.get(put.key).copied();
        if !chunk.puts.iter().all(over_last) {
            return bad("it does not write over the last value");
        }
        Ok(())
    }
}

/// Automerge's hash of a change.
pub(crate) fn hash(bytes: &[u8]) -> Result<ChangeHash, Refused> {
    let change = Change::try_from(bytes);
    let change = change.map_err(|_| Refused::BadChange("no well-formed change"))?;
    Ok(change.hash())
}

#[cfg(test)]
mod tests {
    use units::{DeviceId, PupilId};

    use super::*;
    use crate::author_doc::{AuthorDoc, Value};
    use crate::{BookKind, DocId, FoundingId, SignedChange};

    const DOC: DocId = DocId {
        pupil: PupilId([1; 16]),
        book: BookKind::Home,
        founding: FoundingId::FIRST,
        author: DeviceId([2; 32]),
    };

    /// Two changes as they would be written: keys set for the first time, and set again.
    fn written() -> [Vec<u8>; 2] {
        let mut doc = AuthorDoc::new(&DOC);
        [1, 2].map(|round| {
            doc.write(vec![
                ("schema".into(), Value::Uint(1)),
                ("text/01".into(), Value::Text("a wet dog\n".repeat(round))),
                ("text/01@".into(), Value::Uint(round as u64)),
                ("page/01".into(), Value::Bytes(vec![round as u8; 40])),
                ("looked/01".into(), Value::Int(-3)),
                ("unmark/01".into(), Value::Flag(true)),
                ("text/02".into(), Value::Nothing),
            ])
            .unwrap()
        })
    }

    fn accept(doc: &mut AuthorDoc, seq: u64, bytes: Vec<u8>) -> Result<usize, Refused> {
        let signature = [0; 64];
        let change = SignedChange {
            doc: DOC,
            seq,
            format: SignedChange::FORMAT,
            bytes,
            signature,
        };
        doc.accept(&change)?;
        Ok(doc.values().len())
    }

    /// The bytes with the checksum that belongs to them, if they are a change at all.
    fn with_checksum(mut bytes: Vec<u8>) -> Option<Vec<u8>> {
        chunk::read(&bytes)?;
        let hash = Change::try_from(bytes.as_slice()).ok()?.hash();
        bytes[chunk::CHECKSUM].copy_from_slice(&hash.0[..4]);
        Some(bytes)
    }

    #[test]
    fn the_strict_reader_sees_what_automerge_sees() {
        for bytes in written() {
            let change = Change::try_from(bytes.as_slice()).unwrap();
            let read = chunk::read(&bytes).unwrap();
            assert_eq!(read.puts.len(), change.len());
            assert_eq!(read.actor, change.actor_id().to_bytes());
            assert_eq!(read.seq, change.seq());
            assert_eq!(read.start_op, change.start_op().get());
            let deps: Vec<[u8; 32]> = change.deps().iter().map(|hash| hash.0).collect();
            assert_eq!(read.deps, deps);
            for (put, op) in read.puts.iter().zip(change.decode().operations) {
                assert_eq!(op.key, automerge::legacy::Key::Map(put.key.into()));
                let pred = op.pred.iter().next().map(automerge::legacy::OpId::counter);
                assert_eq!(put.pred, pred);
            }
        }
    }

    #[test]
    fn bent_changes_with_a_right_checksum_never_panic_and_spoil_nothing() {
        let [first, second] = written();
        let mut one = AuthorDoc::new(&DOC);
        accept(&mut one, 1, first).unwrap();
        let (mut tried, mut taken) = (0, 0);
        for at in 8..second.len() {
            for mask in [1, 2, 4, 8, 16, 32, 64, 128, 255] {
                let mut bent = second.clone();
                bent[at] ^= mask;
                let Some(bent) = with_checksum(bent) else {
                    continue;
                };
                tried += 1;
                let mut doc = one.clone();
                match accept(&mut doc, 2, bent) {
                    Ok(_) => taken += 1,
                    Err(_) => {
                        assert_eq!(doc.len(), 1);
                        accept(&mut doc, 2, second.clone()).expect("the good one still follows");
                    }
                }
            }
        }
        println!("{tried} tried, {taken} taken");
        assert!(tried > 300 && taken > 100, "{tried} tried, {taken} taken");
    }
}
