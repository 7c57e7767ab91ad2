//! What the entries of a log come to.
//!
//! Only entries are taken whose author was entitled where they were written: one of the tutor's
//! devices, or the paper key, by the entries that they rest on. Of entries written at the same time:
//!
//! - Whatever a device wrote while another removed it does not count, but for removals. Two devices
//!   that remove each other are both out, and whoever is left, or the paper key, settles it: so a
//!   stolen laptop can lock others out, but never take over.
//! - A device admitted and removed at the same time is out.
//! - Of two foundings at the same time the one of the lower name holds; what both forget is
//!   forgotten.

use std::collections::{BTreeMap, BTreeSet};

use units::{DeviceId, Role};

use super::{Placed, Reached, Step};
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
    /// A founding does not hold that somebody may have followed already. Since nobody goes back to
    /// books that were let go, one of the tutor's devices is to found them anew.
    pub adrift: bool,
    /// The ids of all that was ever forgotten.
    pub forgotten: BTreeSet<[u8; 16]>,
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
    pub(super) fn of(entries: &[Placed]) -> Self {
        Self::within(entries, &vec![true; entries.len()])
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

    /// Whether a founding comes before another.
    pub(crate) fn comes_before(&self, one: FoundingId, other: FoundingId) -> bool {
        let mut at = other;
        // Each is replaced once at most before it is met again: no name may go round in a circle.
        for _ in 0..=self.foundings.len() {
            match self.foundings.get(&at) {
                Some(&before) if before == one => return true,
                Some(&before) => at = before,
                None => return false,
            }
        }
        false
    }

    pub(super) fn may_write_log(&self, device: DeviceId) -> bool {
        self.role(device) == Some(Role::Tutor) || self.paper.contains(&device)
    }

    /// What those of the entries come to that are marked.
    pub(super) fn within(entries: &[Placed], among: &[bool]) -> Self {
        let counts = counting(entries, among);
        let counted: Vec<usize> = (0..entries.len()).filter(|at| counts[*at]).collect();
        let founding = founding(entries, &counted);
        let mut standing = Self {
            paper: paper(entries, &counted),
            foundings: every_founding(entries),
            adrift: is_adrift(entries, &counts, founding.as_ref()),
            founding,
            ..Self::default()
        };
        for &at in &counted {
            let placed = &entries[at];
            match &placed.entry.step {
                Step::Begin { circle, .. } => {
                    standing.circle = Some(*circle);
                    standing.admit(entries, &counted, at, placed.author, Role::Tutor);
                }
                Step::Admit { device, role } => {
                    standing.admit(entries, &counted, at, *device, *role);
                }
                Step::Remove { device, last } => {
                    let all = standing.removed.entry(*device).or_default();
                    all.extend(last.iter().filter(|reached| reached.author == *device));
                }
                Step::Found { forgotten, .. } => standing.forgotten.extend(forgotten),
                Step::Paper { .. } => {}
                Step::Erase => standing.erased = true,
                Step::Newer => standing.newer = true,
            }
        }
        let Self {
            members, removed, ..
        } = &mut standing;
        removed.retain(|device, _| !members.contains_key(device));
        standing
    }

    /// Admits a device, unless a removal stands that the admission does not rest on.
    fn admit(
        &mut self,
        entries: &[Placed],
        counted: &[usize],
        at: usize,
        device: DeviceId,
        role: Role,
    ) {
        let mut removals = counted.iter().filter(|on| removes(&entries[**on], device));
        if removals.all(|on| rests(entries, at, *on)) {
            // Admitted in both roles, it has the lesser.
            let now = self.members.entry(device).or_insert(role);
            if role == Role::Parent {
                *now = role;
            }
        }
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

/// Which of the marked entries count.
fn counting(entries: &[Placed], among: &[bool]) -> Vec<bool> {
    let removals: Vec<(usize, DeviceId)> = (0..entries.len())
        .filter(|at| among[*at])
        .filter_map(|at| match &entries[at].entry.step {
            Step::Remove { device, .. } => Some((at, *device)),
            _ => None,
        })
        .collect();
    let counts = |at: usize| {
        let removal = matches!(entries[at].entry.step, Step::Remove { .. });
        let apart = |other: usize| !rests(entries, at, other) && !rests(entries, other, at);
        let voids =
            |(other, device): &(usize, DeviceId)| *device == entries[at].author && apart(*other);
        among[at] && (removal || !removals.iter().any(voids))
    };
    (0..entries.len()).map(counts).collect()
}

/// The paper keys that hold: named first, or by the one before, and not replaced.
fn paper(entries: &[Placed], counted: &[usize]) -> BTreeSet<DeviceId> {
    let mut named: Vec<(usize, DeviceId)> = Vec::new();
    for &at in counted {
        let key = match &entries[at].entry.step {
            Step::Begin {
                paper: Some(key), ..
            }
            | Step::Paper { key } => *key,
            _ => continue,
        };
        let mut before = named.iter().filter(|(on, _)| rests(entries, at, *on));
        let first = before.clone().next().is_none();
        if first || before.any(|(_, key)| *key == entries[at].author) {
            named.push((at, key));
        }
    }
    let replaced = |(on, key): &(usize, DeviceId)| {
        let mut later = named.iter();
        later.any(|(at, _)| entries[*at].author == *key && rests(entries, *at, *on))
    };
    let holding = named.iter().filter(|named| !replaced(named));
    holding.map(|(_, key)| *key).collect()
}

fn removes(placed: &Placed, whom: DeviceId) -> bool {
    matches!(&placed.entry.step, Step::Remove { device, .. } if *device == whom)
}

/// Whether one entry rests on another.
fn rests(entries: &[Placed], at: usize, on: usize) -> bool {
    entries[at].past.get(on).copied().unwrap_or(false)
}

fn every_founding(entries: &[Placed]) -> BTreeMap<FoundingId, FoundingId> {
    let mut all = BTreeMap::new();
    for placed in entries {
        if let Step::Found {
            founding, after, ..
        } = placed.entry.step
        {
            let before = all.entry(founding).or_insert(after);
            // One name for two foundings is nobody's honest work; the same for everybody.
            *before = after.min(*before);
        }
    }
    all
}

/// Whether a founding does not count that the one that holds was written without knowing of.
fn is_adrift(entries: &[Placed], counts: &[bool], holding: Option<&Founding>) -> bool {
    let named = |at: usize| match &entries[at].entry.step {
        Step::Found { founding, .. } => Some(*founding),
        _ => None,
    };
    let mut all = 0..entries.len();
    let answer = all.clone().find(|at| {
        counts[*at] && named(*at).is_some() && named(*at) == holding.map(|founding| founding.id)
    });
    all.any(|at| {
        let answered = answer.is_some_and(|answer| rests(entries, answer, at));
        named(at).is_some() && !counts[at] && !answered
    })
}

/// The founding that holds: from the first, step by step to the one that replaces it.
fn founding(entries: &[Placed], counted: &[usize]) -> Option<Founding> {
    let mut now: Option<Founding> = None;
    let mut seen = BTreeSet::from([FoundingId::FIRST]);
    loop {
        let at = now
            .as_ref()
            .map_or(FoundingId::FIRST, |founding| founding.id);
        let next = counted.iter().map(|at| &entries[*at]);
        let next = next.filter_map(|placed| match &placed.entry.step {
            Step::Found {
                founding,
                after,
                seed,
                upto,
                forgotten: _,
            } if *after == at && !seen.contains(founding) && seed.author == placed.author => {
                Some(Founding {
                    id: *founding,
                    after: *after,
                    seed: *seed,
                    upto: upto.clone(),
                })
            }
            _ => None,
        });
        let Some(lowest) = next.min_by_key(|founding| founding.id) else {
            return now;
        };
        seen.insert(lowest.id);
        now = Some(lowest);
    }
}
