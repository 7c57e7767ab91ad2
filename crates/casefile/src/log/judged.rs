//! Which entries count, and who is entitled to what by those that do.
//!
//! A removal counts wherever its author was entitled to it. Any other entry counts if its author was entitled
//! by those entries of its past that count, and if nobody removed its author at the same time. So what a
//! removed device let in meanwhile is out with it, and so is whatever that wrote, step by step.
//!
//! Removals are left out of this on purpose. Whether an admission was made in time or written later on an old
//! past nobody can tell from the log. If a removal could fall with the admission of its author, a stolen
//! laptop would say that it had long before removed whoever let in the one that removes it, and stay.

use std::collections::BTreeSet;

use units::{DeviceId, Role};

use super::Step;
use super::entries::{Entries, Past, Placed};

/// Entries with what was found of them.
#[derive(Debug)]
pub(crate) struct Judged<'e> {
    entries: &'e Entries,
    /// The removals among them.
    removals: BTreeSet<usize>,
    /// Those that count, removals and others.
    counts: BTreeSet<usize>,
}

impl<'e> Judged<'e> {
    /// All entries.
    pub(crate) fn all(entries: &'e Entries) -> Self {
        Self::of(entries, &(0..entries.len()).collect())
    }

    /// Of what something rests on, the entries that decide about these devices: those about them, those
    /// about the authors of these, and so on.
    pub(crate) fn past(entries: &'e Entries, past: &Past, about: &[DeviceId]) -> Self {
        let mut looked = BTreeSet::new();
        let mut devices = BTreeSet::new();
        let mut open = about.to_vec();
        let mut papers = entries.papers();
        loop {
            let of_device = match open.pop() {
                Some(device) if devices.insert(device) => {
                    [entries.admissions(device), entries.removals(device)]
                }
                Some(_) => continue,
                None if papers.is_empty() => break,
                None => [core::mem::take(&mut papers), &[]],
            };
            for &at in of_device.into_iter().flatten() {
                let placed = entries.get(at);
                if past.holds(placed) {
                    looked.insert(at);
                    open.push(placed.author);
                }
            }
        }
        Self::of(entries, &looked)
    }

    fn of(entries: &'e Entries, looked: &BTreeSet<usize>) -> Self {
        let is_removal = |at: &&usize| matches!(entries.get(**at).entry.step, Step::Remove { .. });
        let removals: BTreeSet<usize> = looked.iter().filter(is_removal).copied().collect();
        let mut judged = Self {
            entries,
            counts: removals.clone(),
            removals,
        };
        for &at in looked {
            let placed = entries.get(at);
            let entitled = matches!(placed.entry.step, Step::Begin { .. })
                || judged.writes(placed.author, &|known| placed.past.holds(known));
            if entitled && !judged.is_voided(at) {
                judged.counts.insert(at);
            }
        }
        judged
    }

    /// Whether its author was removed at the same time. A removal that does not end the author's admission by
    /// the key on paper voids nothing that rests on that: else whoever came back by it would be locked out of
    /// the rest.
    fn is_voided(&self, at: usize) -> bool {
        let author = self.entries.get(at).author;
        let rests = |at, on| self.entries.rests(at, on);
        let admissions = self.entries.admissions(author).iter().copied();
        let back: Vec<usize> = admissions
            .filter(|on| self.counts(*on) && rests(at, *on) && self.is_by_paper(*on))
            .collect();
        let mut removals = self.entries.removals(author).iter().copied();
        removals.any(|on| {
            let spares = |back: &usize| !rests(on, *back) && !self.are_of_one_paper(*back, on);
            let apart = !rests(at, on) && !rests(on, at);
            self.removals.contains(&on) && apart && !back.iter().any(spares)
        })
    }

    /// Whether the key on paper wrote this, by what it rests on.
    fn is_by_paper(&self, at: usize) -> bool {
        let placed = self.entries.get(at);
        let keys = self.paper_by(&|known| placed.past.holds(known));
        keys.contains(&placed.author)
    }

    /// Whether what the key on paper wrote and another entry are by one key, or the other by the one that the
    /// first has named after itself.
    fn are_of_one_paper(&self, at: usize, other: usize) -> bool {
        let (key, other) = (self.entries.get(at).author, self.entries.get(other).author);
        let mut papers = self.entries.papers().iter().map(|at| self.entries.get(*at));
        key == other
            || papers.any(|placed| {
                let names = matches!(placed.entry.step, Step::Paper { key } if key == other);
                placed.author == key && names
            })
    }

    pub(crate) fn counts(&self, at: usize) -> bool {
        self.counts.contains(&at)
    }

    /// Those that count, each with its place.
    pub(crate) fn counted(&self) -> impl Iterator<Item = (usize, &'e Placed)> {
        self.counts.iter().map(|at| (*at, self.entries.get(*at)))
    }

    /// Whose device it is by all that was looked at.
    pub(crate) fn role(&self, device: DeviceId) -> Option<Role> {
        self.role_by(device, &|_| true)
    }

    /// Whether a device may write the log by all that was looked at.
    pub(crate) fn may_write(&self, device: DeviceId) -> bool {
        self.writes(device, &|_| true)
    }

    /// The paper keys that hold by all that was looked at.
    pub(crate) fn paper(&self) -> BTreeSet<DeviceId> {
        self.paper_by(&|_| true)
    }

    fn writes(&self, device: DeviceId, known: &dyn Fn(&Placed) -> bool) -> bool {
        self.role_by(device, known) == Some(Role::Tutor) || self.paper_by(known).contains(&device)
    }

    /// A device admitted in both roles is the tutor's: nobody but the tutor admits. To give it the other,
    /// it is removed and admitted again.
    fn role_by(&self, device: DeviceId, known: &dyn Fn(&Placed) -> bool) -> Option<Role> {
        let mut role = None;
        // The latest decide quickest, and somebody may have written very many.
        for &at in self.entries.admissions(device).iter().rev() {
            let placed = self.entries.get(at);
            if self.counts(at) && known(placed) && !self.has_ended(at, device, known) {
                match placed.entry.step {
                    Step::Admit {
                        role: Role::Parent, ..
                    } => role = Some(Role::Parent),
                    _ => return Some(Role::Tutor),
                }
            }
        }
        role
    }

    /// Whether a removal stands that an admission does not rest on. An admission by the key on paper is
    /// ended by the paper alone, unless the removal rests on it: else a stolen laptop could lock out at the
    /// same time, as often as it likes, whoever comes back by the paper.
    fn has_ended(&self, at: usize, device: DeviceId, known: &dyn Fn(&Placed) -> bool) -> bool {
        let by_paper = |at| self.is_by_paper(at);
        let mut removals = self.entries.removals(device).iter().rev();
        removals.any(|on| {
            self.removals.contains(on)
                && known(self.entries.get(*on))
                && !self.entries.rests(at, *on)
                && (self.entries.rests(*on, at) || !by_paper(at) || by_paper(*on))
        })
    }

    /// The paper keys that hold: named first, or by the one before, and not replaced.
    fn paper_by(&self, known: &dyn Fn(&Placed) -> bool) -> BTreeSet<DeviceId> {
        let mut named: Vec<(usize, DeviceId)> = Vec::new();
        for &at in self.entries.papers() {
            let placed = self.entries.get(at);
            let key = match &placed.entry.step {
                Step::Begin {
                    paper: Some(key), ..
                }
                | Step::Paper { key } => *key,
                _ => continue,
            };
            if !self.counts(at) || !known(placed) {
                continue;
            }
            let mut before = named
                .iter()
                .filter(|(on, _)| self.entries.rests(at, *on))
                .peekable();
            if before.peek().is_none() || before.any(|(_, key)| *key == placed.author) {
                named.push((at, key));
            }
        }
        // By itself, unless it was named once more after that.
        let replaced = |(on, key): &(usize, DeviceId)| {
            let mut others = named.iter().map(|(at, _)| *at);
            let after = |at: usize| at != *on && !self.entries.rests(*on, at);
            others.any(|at| self.entries.get(at).author == *key && after(at))
        };
        let holding = named.iter().filter(|named| !replaced(named));
        holding.map(|(_, key)| *key).collect()
    }
}
