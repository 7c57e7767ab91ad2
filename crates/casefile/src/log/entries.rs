//! The entries of a log in their places: what each rests on, and which of them are about whom.

use std::collections::{BTreeMap, BTreeSet};

use units::DeviceId;

use super::Step;
use super::entry::{Entry, EntryHash};

/// An entry in its place.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    pub(crate) author: DeviceId,
    /// Whose chain it is in, and its number there.
    chain: usize,
    seq: u32,
    pub(crate) hash: EntryHash,
    pub(crate) entry: Entry,
    /// What it rests on.
    pub(crate) past: Past,
    pub(crate) spent: Spent,
}

/// What an author's chain has used up of what it may hold, an entry counted in; removals cost nothing.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spent {
    pub(crate) entries: usize,
    pub(crate) bytes: usize,
}

/// How many entries of each chain something rests on. Every entry rests on the one before it in its chain, so
/// this says all of it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Past(Vec<u32>);

impl Past {
    pub(crate) fn holds(&self, placed: &Placed) -> bool {
        let reached = self.0.get(placed.chain);
        reached.is_some_and(|reached| *reached >= placed.seq)
    }

    /// Takes in an entry with all that it rests on.
    fn take(&mut self, placed: &Placed) {
        let length = placed.past.0.len().max(placed.chain + 1);
        self.0.resize(length.max(self.0.len()), 0);
        for (mine, theirs) in self.0.iter_mut().zip(&placed.past.0) {
            *mine = (*mine).max(*theirs);
        }
        self.0[placed.chain] = placed.seq.max(self.0[placed.chain]);
    }
}

/// Entries in an order in which each stands after all that it rests on.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entries {
    all: Vec<Placed>,
    places: BTreeMap<EntryHash, usize>,
    /// By author, in the order in which they began.
    chains: Vec<Vec<usize>>,
    authors: BTreeMap<DeviceId, usize>,
    /// Those that none rests on.
    open: BTreeSet<usize>,
    admissions: BTreeMap<DeviceId, Vec<usize>>,
    removals: BTreeMap<DeviceId, Vec<usize>>,
    papers: Vec<usize>,
    foundings: Vec<usize>,
}

impl Entries {
    pub(crate) fn len(&self) -> usize {
        self.all.len()
    }

    pub(crate) fn get(&self, at: usize) -> &Placed {
        &self.all[at]
    }

    pub(crate) fn here(&self, hash: &EntryHash) -> bool {
        self.places.contains_key(hash)
    }

    /// Whether one entry rests on another.
    pub(crate) fn rests(&self, at: usize, on: usize) -> bool {
        self.all[at].past.holds(&self.all[on])
    }

    /// Every chain with its length.
    pub(crate) fn chains(&self) -> impl Iterator<Item = (DeviceId, u64)> {
        let authors = self.authors.iter();
        authors.map(|(author, chain)| (*author, self.chains[*chain].len() as u64))
    }

    pub(crate) fn chain_len(&self, author: DeviceId) -> u64 {
        self.chain(author).len() as u64
    }

    /// The entry of this number of an author's chain.
    pub(crate) fn of_chain(&self, author: DeviceId, seq: u64) -> Option<&Placed> {
        let before = usize::try_from(seq.checked_sub(1)?).ok()?;
        let at = *self.chain(author).get(before)?;
        Some(&self.all[at])
    }

    fn chain(&self, author: DeviceId) -> &[usize] {
        let chain = self.authors.get(&author);
        chain.map_or(&[], |chain| &self.chains[*chain])
    }

    pub(crate) fn last_of(&self, author: DeviceId) -> Option<usize> {
        self.chain(author).last().copied()
    }

    /// Entries that none rests on, in the order in which they came.
    pub(crate) fn open(&self) -> impl Iterator<Item = usize> {
        self.open.iter().copied()
    }

    /// Entries that admit a device; the first entry admits its author.
    pub(crate) fn admissions(&self, device: DeviceId) -> &[usize] {
        self.admissions.get(&device).map_or(&[], Vec::as_slice)
    }

    pub(crate) fn removals(&self, device: DeviceId) -> &[usize] {
        self.removals.get(&device).map_or(&[], Vec::as_slice)
    }

    /// Every device that was ever admitted.
    pub(crate) fn devices(&self) -> impl Iterator<Item = DeviceId> {
        self.admissions.keys().copied()
    }

    /// Entries that name a paper key.
    pub(crate) fn papers(&self) -> &[usize] {
        &self.papers
    }

    pub(crate) fn foundings(&self) -> &[usize] {
        &self.foundings
    }

    /// An entry in the place that it would have. What it rests on must be here.
    pub(crate) fn place(
        &self,
        author: DeviceId,
        entry: Entry,
        hash: EntryHash,
        bytes: usize,
    ) -> Placed {
        let mut past = Past::default();
        for head in &entry.heads {
            past.take(&self.all[self.places[head]]);
        }
        let before = self.last_of(author).map(|at| self.all[at].spent);
        let before = before.unwrap_or_default();
        let spent = match entry.step {
            Step::Remove { .. } => before,
            _ => Spent {
                entries: before.entries + 1,
                bytes: before.bytes + bytes,
            },
        };
        let chain = self.authors.get(&author).copied();
        Placed {
            author,
            chain: chain.unwrap_or(self.chains.len()),
            seq: self.chain(author).len() as u32 + 1,
            hash,
            entry,
            past,
            spent,
        }
    }

    pub(crate) fn push(&mut self, placed: Placed) {
        let at = self.all.len();
        for head in &placed.entry.heads {
            self.open.remove(&self.places[head]);
        }
        self.open.insert(at);
        self.places.insert(placed.hash, at);
        self.authors.insert(placed.author, placed.chain);
        if placed.chain == self.chains.len() {
            self.chains.push(Vec::new());
        }
        self.chains[placed.chain].push(at);
        match &placed.entry.step {
            Step::Begin { paper, .. } => {
                self.admissions.entry(placed.author).or_default().push(at);
                self.papers.extend(paper.map(|_| at));
            }
            Step::Admit { device, .. } => self.admissions.entry(*device).or_default().push(at),
            Step::Remove { device, .. } => self.removals.entry(*device).or_default().push(at),
            Step::Paper { .. } => self.papers.push(at),
            Step::Found { .. } => self.foundings.push(at),
            Step::Erase | Step::Newer => {}
        }
        self.all.push(placed);
    }
}
