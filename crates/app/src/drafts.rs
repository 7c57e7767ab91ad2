//! Half-typed words, kept on this device until they are sent or given up.

use std::collections::{BTreeMap, BTreeSet};

use units::Problem;

use crate::App;
use crate::api::{Draft, KeepDraft, Nothing, OfDraft};
use crate::device::read_setting;

const DRAFTS: &str = "drafts";
/// Most of them; the first by key make room.
const MOST: usize = 64;
const LONGEST_KEY: usize = 200;
const LONGEST: usize = 10_000;

type Drafts = BTreeMap<String, String>;

impl App {
    /// Words that were typed and not sent yet.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn draft(&self, input: OfDraft) -> Result<Draft, Problem> {
        Ok(Draft {
            text: self.drafts()?.remove(&input.key),
        })
    }

    /// Keeps words that are being typed; empty ones go. Words about what is not here any more are not kept.
    ///
    /// # Errors
    /// They are too long, or the disk is full.
    pub fn keep_draft(&self, input: KeepDraft) -> Result<Nothing, Problem> {
        let KeepDraft { key, text } = input;
        if key.len() > LONGEST_KEY || text.chars().count() > LONGEST {
            return Err(Problem::new(
                "text-too-long",
                "This text is too long to be kept.",
                format!("Use at most {LONGEST} characters."),
            ));
        }
        let _turn = crate::device::locked(&self.inner.drafting);
        let mut drafts = self.drafts()?;
        let before = drafts.remove(&key);
        if before.as_deref().unwrap_or_default() == text {
            return Ok(Nothing {});
        }
        // Where that cannot be told they are kept.
        if !text.is_empty() && self.is_here(&key).unwrap_or(true) {
            while drafts.len() >= MOST {
                drafts.pop_first();
            }
            drafts.insert(key, text);
        }
        self.write_setting(DRAFTS, &drafts)?;
        Ok(Nothing {})
    }

    /// Lets go of drafts about pupils and pages that are no longer here.
    pub(crate) fn forget_drafts(&self) -> Result<(), Problem> {
        let _turn = crate::device::locked(&self.inner.drafting);
        let mut drafts = self.drafts()?;
        if drafts.is_empty() {
            return Ok(());
        }
        let here = self.ids_here()?;
        let count = drafts.len();
        drafts.retain(|key, _| ids_in(key).all(|id| here.contains(id)));
        match drafts.len() == count {
            true => Ok(()),
            false => self.write_setting(DRAFTS, &drafts),
        }
    }

    /// Whether the pupils and pages that a key names are here.
    fn is_here(&self, key: &str) -> Result<bool, Problem> {
        if ids_in(key).next().is_none() {
            return Ok(true);
        }
        let here = self.ids_here()?;
        Ok(ids_in(key).all(|id| here.contains(id)))
    }

    /// The ids of the pupils and pages that are here.
    fn ids_here(&self) -> Result<BTreeSet<String>, Problem> {
        let mut here = BTreeSet::new();
        for (pupil, log) in self.circles() {
            if log.erased {
                continue;
            }
            here.insert(pupil.to_string());
            let books = self.books(pupil)?;
            here.extend(books.pages.iter().map(|page| page.id.to_string()));
        }
        Ok(here)
    }

    fn drafts(&self) -> Result<Drafts, Problem> {
        Ok(read_setting(&self.inner.store, DRAFTS)?.unwrap_or_default())
    }
}

fn ids_in(key: &str) -> impl Iterator<Item = &str> {
    key.split('/').filter(|part| is_id(part))
}

fn is_id(part: &str) -> bool {
    part.len() == 32 && part.bytes().all(|byte| byte.is_ascii_hexdigit())
}
