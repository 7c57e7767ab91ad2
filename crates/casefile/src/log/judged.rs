//! Which entries count, and who is entitled to what by those that do.
//!
//! An entry counts if its author was entitled by those entries of its past that count, and if no removal of
//! its author stands that was written at the same time. A removal counts even then. So what a removed device
//! let in meanwhile is out with it, and so is whatever that wrote, step by step.
//!
//! Removals decide which admissions count, and admissions whose removals stand. That can go round in a
//! circle: two devices each let another in at the same time, and each of those removes the device that did
//! not let it in. Then both removals stand. In general all are taken to stand at first, and one falls only
//! where its author was not entitled even by all that might count; what is left is the same whatever the
//! order in which the entries came.

use std::collections::BTreeSet;

use units::{DeviceId, Role};

use super::Step;
use super::entries::{Entries, Past, Placed};

/// Entries with what was found of them.
#[derive(Debug)]
pub(crate) struct Judged<'e> {
    entries: &'e Entries,
    /// Those that count.
    counts: BTreeSet<usize>,
    /// The removals that stand.
    standing: BTreeSet<usize>,
}

impl<'e> Judged<'e> {
    /// All entries.
    pub(crate) fn all(entries: &'e Entries) -> Self {
        Self::settled(entries, &(0..entries.len()).collect())
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
        Self::settled(entries, &looked)
    }

    fn settled(entries: &'e Entries, looked: &BTreeSet<usize>) -> Self {
        let removal = |at: &&usize| is_removal(entries.get(**at));
        let mut standing: BTreeSet<usize> = looked.iter().filter(removal).copied().collect();
        loop {
            let mut strict = Self::passed(entries, looked, standing.clone());
            let certain = strict.counted_removals();
            if certain == standing {
                return strict;
            }
            let generous = Self::passed(entries, looked, certain);
            let mut left = generous.counted_removals();
            left.retain(|at| standing.contains(at));
            if left == standing {
                strict.counts.extend(&standing);
                return strict;
            }
            standing = left;
        }
    }

    /// What counts if just these removals stand.
    fn passed(entries: &'e Entries, looked: &BTreeSet<usize>, standing: BTreeSet<usize>) -> Self {
        let mut judged = Self {
            entries,
            counts: BTreeSet::new(),
            standing,
        };
        for &at in looked {
            let placed = entries.get(at);
            let entitled = matches!(placed.entry.step, Step::Begin { .. })
                || judged.writes(placed.author, &|known| placed.past.holds(known));
            if entitled && (is_removal(placed) || !judged.is_voided(at)) {
                judged.counts.insert(at);
            }
        }
        judged
    }

    fn counted_removals(&self) -> BTreeSet<usize> {
        let counts = self.counts.iter();
        let removals = counts.filter(|at| is_removal(self.entries.get(**at)));
        removals.copied().collect()
    }

    /// Whether its author was removed at the same time.
    fn is_voided(&self, at: usize) -> bool {
        let mut removals = self.entries.removals(self.entries.get(at).author).iter();
        removals.any(|on| {
            let apart = !self.entries.rests(at, *on) && !self.entries.rests(*on, at);
            self.standing.contains(on) && apart
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
        let by_paper = |at: usize| {
            let placed = self.entries.get(at);
            let keys = self.paper_by(&|known| placed.past.holds(known));
            keys.contains(&placed.author)
        };
        let mut removals = self.entries.removals(device).iter().rev();
        removals.any(|on| {
            self.standing.contains(on)
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
        let replaced = |(on, key): &(usize, DeviceId)| {
            let mut later = named.iter();
            later
                .any(|(at, _)| self.entries.get(*at).author == *key && self.entries.rests(*at, *on))
        };
        let holding = named.iter().filter(|named| !replaced(named));
        holding.map(|(_, key)| *key).collect()
    }
}

fn is_removal(placed: &Placed) -> bool {
    matches!(placed.entry.step, Step::Remove { .. })
}
