//! What people were told is kept, and whether it is.

use std::collections::{BTreeMap, BTreeSet};

use app::units::{BlobId, PageId, Role};

use crate::edits::{Claim, Deed};
use crate::seen::Seen;

/// One claim, of whom, and whether the device said that it is kept.
#[derive(Debug, Clone)]
struct Entry {
    by: usize,
    sure: bool,
    /// Its device was removed afterwards.
    cut: bool,
    /// Its device was removed before, or without this being known.
    late: bool,
    claim: Claim,
}

/// Everything that was done about one pupil.
#[derive(Debug, Default)]
pub struct Ledger {
    entries: Vec<Entry>,
    words: Vec<(PageId, String)>,
    blobs: BTreeMap<PageId, BTreeSet<BlobId>>,
}

impl Ledger {
    /// Notes what was done; `sure` where the device said that it is kept, `late` where it had been removed before.
    pub fn note(&mut self, by: usize, deed: Deed, sure: bool, late: bool) {
        self.words.extend(deed.words);
        let claims = deed.claims.into_iter();
        self.entries.extend(claims.map(|claim| Entry {
            by,
            sure,
            cut: false,
            late,
            claim,
        }));
    }

    /// Notes which blobs a page has.
    pub fn look(&mut self, page: PageId, blobs: Vec<BlobId>) {
        self.blobs.entry(page).or_default().extend(blobs);
    }

    /// A device was removed by one that saw this: what else it had done may be lost.
    pub fn removed(&mut self, device: usize, seen: &Seen) {
        for entry in self.entries.iter_mut().filter(|entry| entry.by == device) {
            let known = match &entry.claim {
                Claim::There { fact, .. } => seen.facts.contains(fact),
                Claim::Wrote { key, value, .. } => seen.values.get(key) == value.as_ref(),
                // What is not shown there may have been taken out or back, or never heard of.
                Claim::Gone { .. } | Claim::TookOut(_) | Claim::Forgot(_) | Claim::Erased => false,
            };
            entry.cut = true;
            entry.late |= !known;
            entry.sure &= known;
        }
    }

    /// Whether all was erased, as far as is known: `None` where it may have been.
    pub fn erased(&self) -> Option<bool> {
        let mut erasures = self.claims().filter(|(_, claim)| *claim == &Claim::Erased);
        match erasures.next() {
            None => Some(false),
            Some((true, _)) => Some(true),
            Some(_) => erasures.any(|(sure, _)| sure).then_some(true),
        }
    }

    /// Pages that the log must say to be forgotten. What a removed device had forgotten is shown nowhere, but
    /// perhaps only because nobody else had heard of the page either.
    pub fn forgotten(&self) -> BTreeSet<PageId> {
        let stands = self.entries.iter().filter(|entry| entry.sure && !entry.cut);
        let forgotten = stands.filter_map(|entry| match entry.claim {
            Claim::Forgot(page) => Some(page),
            _ => None,
        });
        forgotten.collect()
    }

    /// Whether a page was added by a device that was removed without the page being known. A laptop that heard of
    /// the page before it heard of the removal may have founded the books with it; whoever held its picture may
    /// have heard of the removal first, and let it go.
    pub fn is_late(&self, page: PageId) -> bool {
        let fact = format!("page {page}");
        let adds = |claim: &Claim| matches!(claim, Claim::There { fact: it, .. } if *it == fact);
        let mut entries = self.entries.iter();
        entries.any(|entry| entry.late && adds(&entry.claim))
    }

    /// Blobs of all pages.
    pub fn all_blobs(&self) -> BTreeSet<BlobId> {
        self.blobs.values().flatten().copied().collect()
    }

    /// Every blob that a page was ever seen with.
    pub fn blobs_named(&self, page: PageId) -> impl Iterator<Item = BlobId> {
        self.blobs.get(&page).into_iter().flatten().copied()
    }

    /// All pages that are known of.
    pub fn pages(&self) -> BTreeSet<PageId> {
        let written = self.words.iter().map(|(page, _)| *page);
        written.chain(self.blobs.keys().copied()).collect()
    }

    /// Words that were written on a page.
    pub fn words_on(&self, page: PageId) -> impl Iterator<Item = &str> {
        let words = self.words.iter().filter(move |(on, _)| *on == page);
        words.map(|(_, words)| words.as_str())
    }

    /// Blobs that a page had, and no page but these.
    pub fn blobs_of(&self, page: PageId, gone: &BTreeSet<PageId>) -> Vec<BlobId> {
        let others = self.blobs.iter().filter(|(other, _)| !gone.contains(other));
        let others: BTreeSet<BlobId> = others.flat_map(|(_, blobs)| blobs).copied().collect();
        let blobs = self.blobs.get(&page).into_iter().flatten().copied();
        blobs.filter(|id| !others.contains(id)).collect()
    }

    /// Whether what a device shows is what it should; the first thing that is not.
    pub fn check(&self, seen: &Seen, role: Role) -> Result<(), String> {
        for (sure, claim) in self.claims() {
            match claim {
                Claim::TookOut(page) | Claim::Forgot(page)
                    if sure && seen.pages.contains_key(page) =>
                {
                    return Err(format!("page {page} is there again: {claim:?}"));
                }
                Claim::Gone { fact } if sure && seen.facts.contains(fact) => {
                    return Err(format!("{fact} is there again"));
                }
                Claim::There { fact, on } if sure => self.is_there(seen, fact, *on)?,
                _ => {}
            }
        }
        let keys = self.claims().filter_map(|(_, claim)| match claim {
            Claim::Wrote { key, on, .. } => Some((key.as_str(), *on)),
            _ => None,
        });
        let keys: BTreeSet<(&str, Option<PageId>)> = keys.collect();
        for (key, on) in keys {
            // Notes are the tutor's own.
            let shown = role == Role::Tutor || key != "note";
            if shown && on.is_none_or(|page| seen.pages.contains_key(&page)) {
                // Where somebody had let the page go, which does not hold, late writes went with it.
                let let_go = on.is_some_and(|page| self.was_let_go(page));
                self.has_value(seen, key, let_go)?;
            }
        }
        Ok(())
    }

    fn claims(&self) -> impl Iterator<Item = (bool, &Claim)> {
        self.entries.iter().map(|entry| (entry.sure, &entry.claim))
    }

    fn is_there(&self, seen: &Seen, fact: &str, on: Option<PageId>) -> Result<(), String> {
        let may_be_gone = self.claims().any(|(_, claim)| match claim {
            Claim::Gone { fact: gone } => gone == fact,
            Claim::TookOut(page) | Claim::Forgot(page) => Some(*page) == on,
            _ => false,
        });
        let itself = on.is_some_and(|page| fact == format!("page {page}"));
        // Whether the page must be there is a claim of its own.
        let without_page = !itself && on.is_some_and(|page| !seen.pages.contains_key(&page));
        match may_be_gone || without_page || seen.facts.contains(fact) {
            true => Ok(()),
            false => Err(format!("{fact} is lost")),
        }
    }

    fn was_let_go(&self, page: PageId) -> bool {
        let mut claims = self.claims();
        claims.any(|(_, claim)| *claim == Claim::Forgot(page) || *claim == Claim::TookOut(page))
    }

    /// The value must be one that was written and, unless the page was once let go, that nobody wrote over who had
    /// seen it.
    fn has_value(&self, seen: &Seen, key: &str, let_go: bool) -> Result<(), String> {
        let writes: Vec<(bool, &Option<String>, &Option<String>)> = self
            .claims()
            .filter_map(|(sure, claim)| match claim {
                Claim::Wrote {
                    key: of,
                    value,
                    saw,
                    ..
                } if of == key => Some((sure, value, saw)),
                _ => None,
            })
            .collect();
        let found = seen.values.get(key).cloned();
        let emptied = writes.iter().any(|(_, value, _)| value.is_none());
        if found.is_none() && emptied {
            return Ok(());
        }
        let mut over: BTreeSet<&Option<String>> = BTreeSet::new();
        let mut open: Vec<&Option<String>> = writes
            .iter()
            .filter_map(|(sure, _, saw)| sure.then_some(*saw))
            .collect();
        while let Some(value) = open.pop() {
            // Nothing at all may be what was there first, and what was left when it was emptied.
            if over.insert(value) && value.is_some() {
                let before = writes.iter().filter(|(_, wrote, _)| *wrote == value);
                open.extend(before.map(|(_, _, saw)| *saw));
            }
        }
        let written = |(_, value, saw): &(bool, _, _)| *value == &found || *saw == &found;
        match over.contains(&found) {
            true if let_go && (found.is_none() || writes.iter().any(written)) => Ok(()),
            true => Err(format!(
                "{key} is {found:?}, which was written over: {writes:?}"
            )),
            false => Ok(()),
        }
    }
}
