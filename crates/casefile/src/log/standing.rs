//! What the entries of a log come to.
//!
//! Only entries are taken whose author was entitled where they were written: one of the tutor's
//! devices, or the paper key, by the entries that they rest on. Of entries written at the same time:
//!
//! - Whatever a device wrote while another removed it does not count, but for removals, and neither does
//!   what those wrote whom it let in. Two devices that remove each other are both out, and whoever is left,
//!   or the paper key, settles it: so a stolen laptop can lock others out, but never take over.
//! - A device admitted and removed at the same time is out, but for one that the paper key admits.
//! - Of two foundings at the same time the one of the lower name holds; what both forget is
//!   forgotten.
//!
//! [`judged`](super::judged) has the first two in full.

use std::collections::{BTreeMap, BTreeSet};

use units::{DeviceId, Role};

use super::entries::Entries;
use super::judged::Judged;
use super::{Reached, Step};
use crate::{BookKind, FoundingId};

/// Who belongs, which founding holds, and what is forgotten.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Standing {
    /// Whose log it is; `None` while nothing of it is here.
    pub circle: Option<super::CircleKind>,
    /// Those who belong.
    pub members: BTreeMap<DeviceId, Role>,
    /// Those who belonged, each with how far its documents stand.
    pub removed: BTreeMap<DeviceId, Vec<Reached>>,
    /// The paper keys that hold.
    pub paper: BTreeSet<DeviceId>,
    /// The founding that holds.
    pub founding: Option<Founding>,
    /// Every founding there ever was, each with the one that it was to replace.
    pub foundings: BTreeMap<FoundingId, FoundingId>,
    /// The one that holds, and those that whoever wrote it knew of.
    pub answered: BTreeSet<FoundingId>,
    /// Somebody may have followed a founding that does not hold, or no longer, and that does not lead to the one
    /// that does. Since nobody goes back to books that were let go, one of the tutor's devices is to found them
    /// anew.
    pub adrift: bool,
    /// The ids of all that was ever forgotten.
    pub forgotten: BTreeSet<[u8; 16]>,
    /// Those of them that the founding that holds knew nothing of: forgotten elsewhere at the same time.
    pub forgotten_elsewhere: BTreeSet<[u8; 16]>,
    /// Whether everything is to be let go.
    pub erased: bool,
    /// Some entry is of a newer version of the program.
    pub newer: bool,
}

/// A founding that is not the first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Founding {
    /// Its name.
    pub id: FoundingId,
    /// The founding that it replaces.
    pub after: FoundingId,
    /// The last change of its seed.
    pub seed: Reached,
    /// How far the documents before had come.
    pub upto: Vec<Reached>,
}

impl Standing {
    pub(super) fn of(entries: &Entries) -> Self {
        let judged = Judged::all(entries);
        let within = within_reach(entries, &judged);
        let (answer, founding) = holding(entries, &judged, &within).unzip();
        let mut standing = Self {
            paper: judged.paper(),
            foundings: every_founding(entries, &judged),
            founding,
            ..Self::default()
        };
        let known =
            |at: usize| answer.is_some_and(|answer| at == answer || entries.rests(answer, at));
        let mut open = BTreeSet::new();
        for &at in entries.foundings() {
            if let Step::Found { founding, .. } = entries.get(at).entry.step {
                match known(at) {
                    true => standing.answered.insert(founding),
                    false => open.insert(founding),
                };
            }
        }
        standing.adrift = standing.is_adrift(&open);
        let members = entries.devices();
        let members = members.filter_map(|device| Some((device, judged.role(device)?)));
        standing.members = members.collect();
        for (at, placed) in judged.counted() {
            match &placed.entry.step {
                Step::Begin { circle, .. } => standing.circle = Some(*circle),
                Step::Remove { device, last } if !standing.members.contains_key(device) => {
                    let all = standing.removed.entry(*device).or_default();
                    all.extend(last.iter().filter(|reached| reached.author == *device));
                }
                Step::Found { forgotten, .. } => {
                    standing.forgotten.extend(forgotten);
                    if !known(at) {
                        standing.forgotten_elsewhere.extend(forgotten);
                    }
                }
                Step::Admit { .. } | Step::Remove { .. } | Step::Paper { .. } => {}
                Step::Erase => standing.erased = true,
                Step::Newer => standing.newer = true,
            }
        }
        for last in standing.removed.values_mut() {
            last.sort_unstable();
            last.dedup();
        }
        standing
    }

    /// Whose device it is; `None` if it does not belong.
    pub fn role(&self, device: DeviceId) -> Option<Role> {
        self.members.get(&device).copied()
    }

    /// The name of the founding that holds.
    pub fn founding_id(&self) -> FoundingId {
        let founding = self.founding.as_ref();
        founding.map_or(FoundingId::FIRST, |founding| founding.id)
    }

    /// The last change that stands in a document of a device that was removed; `None` where it has no
    /// end because the device belongs.
    pub fn end(&self, book: BookKind, founding: FoundingId, author: DeviceId) -> Option<End> {
        if self.members.contains_key(&author) {
            return None;
        }
        let last = self.removed.get(&author).map_or(&[][..], Vec::as_slice);
        let here = last
            .iter()
            .filter(|reached| reached.book == book && reached.founding == founding);
        let end = here.map(|reached| End {
            seq: reached.seq,
            digest: reached.digest,
        });
        // Removed by two at once: what either had taken stands.
        Some(end.max().unwrap_or_default())
    }

    /// Whether a device that is in a founding may follow the one that holds.
    ///
    /// It may not if it was there before, for it has let those books go: the next numbers of its own documents are
    /// taken. Of one that was founded by somebody who knew of the founding that it is in, that cannot be. Else
    /// devices go from one founding to those after it and, at a fork, from a higher name to a lower, and never the
    /// other way.
    pub(crate) fn leads_on(&self, from: FoundingId) -> bool {
        self.answered.contains(&from)
            || leads_on(&self.way_to(from), &self.way_to(self.founding_id()))
    }

    /// The names of the foundings from the first but one on to this one.
    fn way_to(&self, founding: FoundingId) -> Vec<FoundingId> {
        let mut way = Vec::new();
        let mut at = founding;
        // No name may go round in a circle.
        while at != FoundingId::FIRST && way.len() <= self.foundings.len() {
            way.push(at);
            match self.foundings.get(&at) {
                Some(&before) => at = before,
                None => break,
            }
        }
        way.reverse();
        way
    }

    /// Whether one of these foundings does not lead on to the one that holds.
    fn is_adrift(&self, open: &BTreeSet<FoundingId>) -> bool {
        let holds = self.way_to(self.founding_id());
        let mut open = open.iter();
        open.any(|founding| leads_on(&holds, &self.way_to(*founding)))
    }

    pub(super) fn may_write_log(&self, device: DeviceId) -> bool {
        self.role(device) == Some(Role::Tutor) || self.paper.contains(&device)
    }
}

/// Whether one goes from one founding to another, by the ways to both.
fn leads_on(from: &[FoundingId], to: &[FoundingId]) -> bool {
    let shared = from.iter().zip(to).take_while(|(one, other)| one == other);
    let fork = shared.count();
    match (from.get(fork), to.get(fork)) {
        (None, Some(_)) => true,
        (Some(mine), Some(other)) => other < mine,
        (_, None) => false,
    }
}

/// The last change of a document that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct End {
    /// Its number; 0 where nothing stands.
    pub seq: u64,
    /// BLAKE3 of its bytes.
    pub digest: [u8; 32],
}

/// Every founding with the one before it, those that do not count among them, for somebody may have
/// followed them.
fn every_founding(entries: &Entries, judged: &Judged<'_>) -> BTreeMap<FoundingId, FoundingId> {
    let mut all: BTreeMap<FoundingId, (bool, FoundingId)> = BTreeMap::new();
    for &at in entries.foundings() {
        if let Step::Found {
            founding, after, ..
        } = entries.get(at).entry.step
        {
            // One name for two foundings is nobody's honest work: that goes first which counts.
            let claim = (!judged.counts(at), after);
            let held = all.entry(founding).or_insert(claim);
            *held = claim.min(*held);
        }
    }
    let all = all.into_iter();
    all.map(|(founding, (_, after))| (founding, after))
        .collect()
}

/// The foundings that count and that somebody can follow, by their own seed or by that of one that replaces
/// them: who has followed further has let the seeds before go, and vouches for none of them.
fn within_reach(entries: &Entries, judged: &Judged<'_>) -> BTreeSet<usize> {
    // The later first: they lead to those before.
    let counted = entries.foundings().iter().rev().copied();
    let mut apart: Vec<usize> = counted.filter(|at| judged.counts(*at)).collect();
    let mut within = BTreeSet::new();
    let mut led_to = BTreeSet::new();
    loop {
        let before = within.len();
        apart.retain(|&at| {
            let Step::Found {
                founding, after, ..
            } = entries.get(at).entry.step
            else {
                return false;
            };
            let reached = led_to.contains(&founding) || !is_out_of_reach(entries, judged, at);
            if reached {
                within.insert(at);
                led_to.insert(after);
            }
            !reached
        });
        if within.len() == before {
            return within;
        }
    }
}

/// Whether a founding has a seed that nobody may bring any more: its author was removed, and no removal
/// vouches for as much of that document. Whoever has not got it could follow it never.
fn is_out_of_reach(entries: &Entries, judged: &Judged<'_>, at: usize) -> bool {
    let placed = entries.get(at);
    let Step::Found { seed, .. } = &placed.entry.step else {
        return false;
    };
    let removals = entries.removals(placed.author).iter();
    let later = removals.filter(|on| judged.counts(**on) && !entries.rests(at, **on));
    let vouched = later.map(|on| match &entries.get(*on).entry.step {
        Step::Remove { last, .. } => last
            .iter()
            .filter(|it| {
                (it.book, it.founding, it.author) == (seed.book, seed.founding, seed.author)
            })
            .map(|it| it.seq)
            .max()
            .unwrap_or(0),
        _ => 0,
    });
    vouched.max().is_some_and(|vouched| vouched < seed.seq)
}

/// The founding that holds, with its entry: from the first step by step to the one that replaces it, of those
/// that may be taken, to the last of them whose own seed somebody can bring.
fn holding(
    entries: &Entries,
    judged: &Judged<'_>,
    within: &BTreeSet<usize>,
) -> Option<(usize, Founding)> {
    let foundings = judged.counted().filter_map(|(at, placed)| {
        let Step::Found {
            founding,
            after,
            seed,
            upto,
            forgotten: _,
        } = &placed.entry.step
        else {
            return None;
        };
        let founding = Founding {
            id: *founding,
            after: *after,
            seed: *seed,
            upto: upto.clone(),
        };
        within.contains(&at).then_some((at, placed.hash, founding))
    });
    let foundings: Vec<_> = foundings.collect();
    let mut holds = None;
    let mut seen = BTreeSet::from([FoundingId::FIRST]);
    let mut before = FoundingId::FIRST;
    loop {
        let next = foundings.iter();
        let next = next.filter(|(.., it)| it.after == before && !seen.contains(&it.id));
        // One name for two is told apart by the hash.
        let Some((at, _, founding)) = next.min_by_key(|(_, hash, it)| (it.id, hash)) else {
            return holds;
        };
        before = founding.id;
        seen.insert(before);
        if !is_out_of_reach(entries, judged, *at) {
            holds = Some((*at, founding.clone()));
        }
    }
}
