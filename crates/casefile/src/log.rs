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

mod entries;
mod entry;
mod judged;
mod standing;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use units::{DeviceId, PupilId};

use crate::author_doc::Outcome;
use crate::{Accepted, BookKind, DocId, FoundingId, Refused, SignedChange, Signer, WriteRefused};

use entries::{Entries, Past, Placed};
pub(crate) use entry::MAX_DOCS;
pub use entry::{CircleKind, MAX_FORGOTTEN, Reached, Step};
use entry::{Entry, EntryHash, MAX_HEADS};
use judged::Judged;
pub use standing::{End, Founding, Standing};

/// Most entries that one device writes in one log, removals left aside.
///
/// What others have written counts for nothing here: what is taken must not depend on the order in which
/// it comes, and nobody can use up another's room. A removal costs none, but it must be of a device that
/// belongs; so each is paid for by an admission.
pub const MAX_ENTRIES: usize = 1_000;
/// Of these kept free for admissions and the key on paper.
const KEPT_FREE: usize = 100;
/// Beyond [`MAX_ENTRIES`] for erasing, once and again.
const FOR_ERASING: usize = 10;
/// Most bytes of one device's entries after which it still writes long ones: 16 MiB.
const MAX_CHAIN_BYTES: usize = 16 << 20;
/// Most bytes of one entry.
const MAX_ENTRY_BYTES: usize = 256 << 10;

/// The log of a pupil or of the practice.
#[derive(Debug, Clone)]
pub(crate) struct Log {
    id: PupilId,
    entries: Entries,
    standing: Standing,
}

impl Log {
    /// The log of this name, of which nothing is here yet.
    pub(crate) fn new(id: PupilId) -> Self {
        Self {
            id,
            entries: Entries::default(),
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
        let placed = log.place(&change, entry);
        log.entries.push(placed);
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
        let chains = self.entries.chains();
        chains.map(|(author, length)| (self.doc(author), length))
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

    /// Writes a step. What it may say is checked by whoever asks for it; nothing is written that others
    /// would refuse.
    pub(crate) fn write(
        &mut self,
        signer: &Signer,
        step: Step,
    ) -> Result<SignedChange, WriteRefused> {
        let author = signer.device();
        if !self.standing.may_write_log(author) {
            return Err(WriteRefused::NotAMember);
        }
        let heads = self.to_rest_on(author, &step);
        let bytes = Entry { heads, step }.encode();
        let seq = self.entries.chain_len(author) + 1;
        let change = SignedChange::sign(signer, self.doc(author), seq, bytes);
        match self.accept(&change) {
            Ok(_) => {
                self.standing = Standing::of(&self.entries);
                Ok(change)
            }
            Err(Refused::NotAMember) => Err(WriteRefused::NotAMember),
            Err(_) => Err(WriteRefused::TooLong {
                what: "the log of devices",
                limit: MAX_ENTRIES,
            }),
        }
    }

    /// The entries that a new one is to name: those that none rests on. Where there are more than one can
    /// name, the author's own last goes first, then the founding that is replaced, then what the step is
    /// about, then what came first; to the others it is as if they were written at the same time.
    fn to_rest_on(&self, author: DeviceId, step: &Step) -> Vec<EntryHash> {
        let mut heads: BTreeSet<usize> = self.entries.open().collect();
        if heads.len() > MAX_HEADS {
            let about = match step {
                Step::Remove { device, .. } => self.entries.admissions(*device),
                Step::Found { .. } => self.entries.foundings(),
                _ => &[],
            };
            let own = self.entries.last_of(author);
            let known = |at: &&usize| own.is_some_and(|own| self.entries.rests(own, **at));
            let about = about.iter().filter(|at| !known(at)).rev().copied();
            let replaced = match step {
                Step::Found { after, .. } => Some(*after),
                _ => None,
            };
            let replaced = replaced.into_iter().flat_map(|after| self.named(after));
            let all = own.into_iter().chain(replaced);
            let all = all.chain(about).chain(self.entries.open());
            let mut chosen = BTreeSet::new();
            for at in all {
                if chosen.len() < MAX_HEADS {
                    chosen.insert(at);
                }
            }
            heads = chosen;
        }
        let mut hashes: Vec<EntryHash> = heads
            .into_iter()
            .map(|at| self.entries.get(at).hash)
            .collect();
        hashes.sort_unstable();
        hashes
    }

    /// A paper key of which a device's own chain does not say yet that it knew it.
    ///
    /// Whoever steals the device can write on an old past only from the end of its chain on. Once it has
    /// said so, nothing that is written with it can be taken for older than the key.
    pub(crate) fn paper_unsaid_by(&self, device: DeviceId) -> Option<DeviceId> {
        let last = self.entries.last_of(device);
        let knew = |at: usize| last.is_some_and(|last| last == at || self.entries.rests(last, at));
        let names = |at: usize, key| match self.entries.get(at).entry.step {
            Step::Begin { paper, .. } => paper == Some(key),
            Step::Paper { key: named } => named == key,
            _ => false,
        };
        let said = |key| {
            let mut papers = self.entries.papers().iter();
            papers.any(|at| names(*at, key) && knew(*at))
        };
        let mut keys = self.standing.paper.iter().copied();
        keys.find(|key| !said(*key))
    }

    /// How many changes of a document are a seed by what its author said, whether that holds or not; each time
    /// that it said so, of which once is honest.
    pub(crate) fn seeds_of(&self, id: &DocId) -> impl Iterator<Item = u64> {
        let foundings = self.entries.foundings().iter();
        let foundings = foundings.map(|at| self.entries.get(*at));
        let its = foundings.filter(|placed| placed.author == id.author);
        let seeds = its.filter_map(|placed| match &placed.entry.step {
            Step::Found { seed, .. } => Some(seed),
            _ => None,
        });
        let of_doc = seeds.filter(|seed| {
            (seed.book, seed.founding, seed.author) == (id.book, id.founding, id.author)
        });
        of_doc.map(|seed| seed.seq)
    }

    fn accept(&mut self, change: &SignedChange) -> Outcome {
        let bad = |what| Err(Refused::BadChange(what));
        if change.bytes.len() > MAX_ENTRY_BYTES {
            return Err(Refused::TooLarge);
        }
        let author = change.doc.author;
        if change.seq == 0 {
            return bad("sequence numbers begin at 1");
        }
        if let Some(known) = self.entries.of_chain(author, change.seq) {
            return match known.hash == hash(change) {
                true => Ok(Accepted::Known),
                false => Err(Refused::Forked { seq: change.seq }),
            };
        }
        let expected = self.entries.chain_len(author) + 1;
        if change.seq != expected {
            return Err(Refused::Gap { expected });
        }
        let Some(entry) = Entry::decode(&change.bytes) else {
            return bad("not an entry of a log");
        };
        let first = matches!(entry.step, Step::Begin { .. });
        if first != (self.entries.len() == 0) {
            return match first {
                true => bad("a log begins once"),
                false => Err(Refused::Gap { expected }),
            };
        }
        if first && (!entry.heads.is_empty() || name(author, &change.bytes) != self.id) {
            return Err(Refused::WrongPupil);
        }
        if !entry.heads.iter().all(|head| self.entries.here(head)) {
            return Err(Refused::Gap { expected });
        }
        let placed = self.place(change, entry);
        if let Some(refused) = self.against(&placed).filter(|_| !first) {
            return Err(refused);
        }
        self.entries.push(placed);
        Ok(Accepted::New)
    }

    fn place(&self, change: &SignedChange, entry: Entry) -> Placed {
        let (author, bytes) = (change.doc.author, change.bytes.len());
        self.entries.place(author, entry, hash(change), bytes)
    }

    /// What holds against an entry by what it rests on, and by nothing else.
    fn against(&self, placed: &Placed) -> Option<Refused> {
        let bad = |what| Some(Refused::BadChange(what));
        let Placed {
            author,
            entry,
            past,
            spent,
            ..
        } = placed;
        let last = self.entries.last_of(*author);
        if last.is_some_and(|last| !past.holds(self.entries.get(last))) {
            return bad("it does not rest on its author's last entry");
        }
        let room = match &entry.step {
            Step::Remove { .. } => usize::MAX,
            Step::Erase => MAX_ENTRIES + FOR_ERASING,
            Step::Found { .. } => MAX_ENTRIES - KEPT_FREE,
            _ => MAX_ENTRIES,
        };
        let long = matches!(entry.step, Step::Found { .. } | Step::Newer);
        if spent.entries > room || long && spent.bytes > MAX_CHAIN_BYTES {
            return Some(Refused::DocumentFull);
        }
        let mut about = vec![*author];
        if let Step::Remove { device, .. } = &entry.step {
            about.push(*device);
        }
        let judged = Judged::past(&self.entries, past, &about);
        if !judged.may_write(*author) {
            return Some(Refused::NotAMember);
        }
        match &entry.step {
            Step::Remove { device, .. } if judged.role(*device).is_none() => {
                bad("it removes a device that does not belong")
            }
            // So that every way from the first founding on has an end, and is the same for everybody.
            Step::Found { founding, .. }
                if *founding == FoundingId::FIRST || self.is_founded(past, *founding) =>
            {
                bad("a founding has a name of its own")
            }
            Step::Found { after, .. }
                if *after != FoundingId::FIRST && !self.is_founded(past, *after) =>
            {
                bad("a founding replaces one that its author knows")
            }
            Step::Found { seed, .. } if seed.author != *author || seed.seq == 0 => {
                bad("a founding has a seed of its author's")
            }
            _ => None,
        }
    }

    /// Whether what an entry rests on names a founding.
    fn is_founded(&self, past: &Past, name: FoundingId) -> bool {
        self.named(name).any(|at| past.holds(self.entries.get(at)))
    }

    /// The entries that found by this name.
    fn named(&self, name: FoundingId) -> impl Iterator<Item = usize> {
        let all = self.entries.foundings().iter().copied();
        all.filter(move |at| match self.entries.get(*at).entry.step {
            Step::Found { founding, .. } => founding == name,
            _ => false,
        })
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
