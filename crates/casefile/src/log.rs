//! Who belongs: a log of entries, each signed by one of the tutor's devices and resting on those
//! before it by their hashes.
//!
//! Every device of the tutor's writes its own chain of entries; an entry also names the newest ones
//! of the others that its author knew, so that all of them together say what came after what, and what
//! was written at the same time. Clocks play no part. From the same entries every device reads the
//! same [`Standing`], in whatever order they came.
//!
//! The first entry names the pupil: a pupil's id is its hash. So nobody can put another first entry
//! under the same name.

mod entry;
mod standing;

use std::collections::BTreeMap;

use units::{DeviceId, PupilId};

use crate::author_doc::Outcome;
use crate::{Accepted, BookKind, DocId, FoundingId, Refused, SignedChange, Signer, WriteRefused};

pub use entry::{CircleKind, MAX_FORGOTTEN, Reached, Step};
pub(crate) use entry::{Entry, EntryHash};
pub use standing::{End, Founding, Standing};

/// Most entries of one log.
pub const MAX_ENTRIES: usize = 1_000;
/// Most bytes of one entry.
const MAX_ENTRY_BYTES: usize = 256 << 10;

/// An entry in its place.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    pub(crate) author: DeviceId,
    pub(crate) entry: Entry,
    /// Which of the entries before it, in the order in which they came, it rests on.
    pub(crate) past: Vec<bool>,
}

/// The log of a pupil or of the practice.
#[derive(Debug, Clone)]
pub(crate) struct Log {
    id: PupilId,
    /// In an order in which each stands after all that it rests on.
    entries: Vec<Placed>,
    places: BTreeMap<EntryHash, usize>,
    chains: BTreeMap<DeviceId, Vec<EntryHash>>,
    standing: Standing,
}

impl Log {
    /// The log of this name, of which nothing is here yet.
    pub(crate) fn new(id: PupilId) -> Self {
        Self {
            id,
            entries: Vec::new(),
            places: BTreeMap::new(),
            chains: BTreeMap::new(),
            standing: Standing::default(),
        }
    }

    /// Begins a log.
    pub(crate) fn begin(
        signer: &Signer,
        circle: CircleKind,
        nonce: [u8; 16],
        paper: Option<DeviceId>,
    ) -> (Self, SignedChange) {
        let entry = Entry {
            heads: Vec::new(),
            step: Step::Begin {
                circle,
                nonce,
                paper,
            },
        };
        let bytes = entry.encode();
        let mut log = Self::new(name(signer.device(), &bytes));
        let change = SignedChange::sign(signer, log.doc(signer.device()), 1, bytes);
        log.take(signer.device(), entry, hash(&change));
        log.standing = Standing::of(&log.entries);
        (log, change)
    }

    pub(crate) fn id(&self) -> PupilId {
        self.id
    }

    pub(crate) fn standing(&self) -> &Standing {
        &self.standing
    }

    /// Every chain with its length.
    pub(crate) fn have(&self) -> impl Iterator<Item = (DocId, u64)> {
        let chains = self.chains.iter();
        chains.map(|(author, chain)| (self.doc(*author), chain.len() as u64))
    }

    /// Takes entries whose signatures hold, in whatever order they come.
    pub(crate) fn accept_all(&mut self, changes: &[&SignedChange]) -> Vec<Outcome> {
        let mut outcomes: Vec<Outcome> = vec![Err(Refused::Gap { expected: 0 }); changes.len()];
        loop {
            let mut moved = false;
            for (outcome, change) in outcomes.iter_mut().zip(changes) {
                if matches!(outcome, Err(Refused::Gap { .. })) {
                    *outcome = self.accept(change);
                    moved |= *outcome == Ok(Accepted::New);
                }
            }
            if !moved {
                break;
            }
        }
        self.standing = Standing::of(&self.entries);
        outcomes
    }

    /// Writes a step. What it may say is checked by whoever asks for it.
    pub(crate) fn write(
        &mut self,
        signer: &Signer,
        step: Step,
    ) -> Result<SignedChange, WriteRefused> {
        let author = signer.device();
        if !self.standing.may_write_log(author) {
            return Err(WriteRefused::NotAMember);
        }
        if self.entries.len() >= most(&step) {
            return Err(WriteRefused::TooLong {
                what: "the log of devices",
                limit: MAX_ENTRIES,
            });
        }
        let mut heads = self.heads();
        heads.sort_unstable();
        let entry = Entry { heads, step };
        let seq = self.chains.get(&author).map_or(0, Vec::len) as u64 + 1;
        let change = SignedChange::sign(signer, self.doc(author), seq, entry.encode());
        self.take(author, entry, hash(&change));
        self.standing = Standing::of(&self.entries);
        Ok(change)
    }

    fn accept(&mut self, change: &SignedChange) -> Outcome {
        let bad = |what| Err(Refused::BadChange(what));
        if change.bytes.len() > MAX_ENTRY_BYTES {
            return Err(Refused::TooLarge);
        }
        let author = change.doc.author;
        let chain = self.chains.get(&author).map_or(&[][..], Vec::as_slice);
        let hash = hash(change);
        let before = change.seq.checked_sub(1);
        let before = before.and_then(|before| usize::try_from(before).ok());
        if let Some(known) = before.and_then(|before| chain.get(before)) {
            return match *known == hash {
                true => Ok(Accepted::Known),
                false => Err(Refused::Forked { seq: change.seq }),
            };
        }
        let expected = chain.len() as u64 + 1;
        if change.seq != expected {
            return Err(Refused::Gap { expected });
        }
        let Some(entry) = Entry::decode(&change.bytes) else {
            return bad("not an entry of a log");
        };
        if self.entries.len() >= most(&entry.step) {
            return Err(Refused::TooLarge);
        }
        let first = matches!(entry.step, Step::Begin { .. });
        if first != self.entries.is_empty() {
            return match first {
                true => bad("a log begins once"),
                false => Err(Refused::Gap { expected }),
            };
        }
        if first && (!entry.heads.is_empty() || name(author, &change.bytes) != self.id) {
            return Err(Refused::WrongPupil);
        }
        if !entry
            .heads
            .iter()
            .all(|head| self.places.contains_key(head))
        {
            return Err(Refused::Gap { expected });
        }
        let past = self.past(&entry);
        if chain.last().is_some_and(|last| !past[self.places[last]]) {
            return bad("it does not rest on its author's last entry");
        }
        if !first && !Standing::within(&self.entries, &past).may_write_log(author) {
            return Err(Refused::NotAMember);
        }
        self.take(author, entry, hash);
        Ok(Accepted::New)
    }

    fn take(&mut self, author: DeviceId, entry: Entry, hash: EntryHash) {
        let past = self.past(&entry);
        self.places.insert(hash, self.entries.len());
        self.chains.entry(author).or_default().push(hash);
        self.entries.push(Placed {
            author,
            entry,
            past,
        });
    }

    fn past(&self, entry: &Entry) -> Vec<bool> {
        let mut past = vec![false; self.entries.len()];
        for head in &entry.heads {
            let at = self.places[head];
            past[at] = true;
            for (mine, theirs) in past.iter_mut().zip(&self.entries[at].past) {
                *mine |= theirs;
            }
        }
        past
    }

    /// The entries that none rests on.
    fn heads(&self) -> Vec<EntryHash> {
        let rested_on = |at: usize| {
            let after = self.entries[at + 1..].iter();
            after.clone().any(|placed| placed.past[at])
        };
        let places = self.places.iter();
        let open = places.filter(|(_, at)| !rested_on(**at));
        open.map(|(hash, _)| *hash).collect()
    }

    fn doc(&self, author: DeviceId) -> DocId {
        DocId {
            pupil: self.id,
            book: BookKind::Log,
            founding: FoundingId::FIRST,
            author,
        }
    }
}

/// A log that somebody has filled up still has room for removals.
fn most(step: &Step) -> usize {
    const KEPT_FREE: usize = 100;
    match step {
        Step::Remove { .. } | Step::Erase => MAX_ENTRIES,
        _ => MAX_ENTRIES - KEPT_FREE,
    }
}

/// The name that follows from a first entry.
fn name(author: DeviceId, bytes: &[u8]) -> PupilId {
    let mut hasher = blake3::Hasher::new_derive_key("pothook/casefile/name");
    let hash = hasher.update(&author.0).update(bytes).finalize();
    let mut name = [0; 16];
    name.copy_from_slice(&hash.as_bytes()[..16]);
    PupilId(name)
}

fn hash(change: &SignedChange) -> EntryHash {
    let mut hasher = blake3::Hasher::new_derive_key("pothook/casefile/entry");
    hasher.update(&change.doc.encode());
    hasher.update(&change.seq.to_le_bytes());
    hasher.update(&change.bytes);
    *hasher.finalize().as_bytes()
}
