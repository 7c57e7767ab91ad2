//! The documents of one pupil, or of the practice, by name.

use std::collections::BTreeMap;

use crate::author_doc::{AuthorDoc, Outcome, Put};
use crate::{Accepted, DocId, MAX_CHANGE_BYTES, Refused, SignedChange, Signer, WriteRefused};

#[derive(Debug, Clone, Default)]
pub(crate) struct Books {
    docs: BTreeMap<DocId, AuthorDoc>,
}

impl Books {
    /// Takes changes, each with the verdict on its author, if that is against it. Outcomes in the
    /// same order.
    pub(crate) fn accept_all<'a>(
        &mut self,
        changes: impl IntoIterator<Item = (&'a SignedChange, Option<Refused>)>,
    ) -> Vec<Outcome> {
        let mut outcomes: Vec<Outcome> = Vec::new();
        let mut by_doc: BTreeMap<DocId, Vec<(usize, &SignedChange)>> = BTreeMap::new();
        for (at, (change, against)) in changes.into_iter().enumerate() {
            match against.or_else(|| refusal(change)) {
                Some(refused) => outcomes.push(Err(refused)),
                None => {
                    by_doc.entry(change.doc).or_default().push((at, change));
                    outcomes.push(Ok(Accepted::Known));
                }
            }
        }
        for (id, changes) in by_doc {
            let (places, changes): (Vec<usize>, Vec<&SignedChange>) = changes.into_iter().unzip();
            let doc = self.docs.entry(id).or_insert_with(|| AuthorDoc::new(&id));
            for (at, outcome) in places.into_iter().zip(doc.accept_all(&changes)) {
                outcomes[at] = outcome;
            }
        }
        outcomes
    }

    pub(crate) fn write(
        &mut self,
        signer: &Signer,
        id: DocId,
        puts: Vec<Put>,
    ) -> Result<SignedChange, WriteRefused> {
        let doc = self.docs.entry(id).or_insert_with(|| AuthorDoc::new(&id));
        let bytes = doc.write(puts)?;
        Ok(SignedChange::sign(signer, id, doc.len(), bytes))
    }

    pub(crate) fn docs(&self) -> impl Iterator<Item = (&DocId, &AuthorDoc)> {
        self.docs.iter()
    }

    pub(crate) fn have(&self) -> BTreeMap<DocId, u64> {
        let counts = self.docs.iter().map(|(id, doc)| (*id, doc.len()));
        counts.filter(|(_, count)| *count > 0).collect()
    }
}

fn refusal(change: &SignedChange) -> Option<Refused> {
    if change.bytes.len() > MAX_CHANGE_BYTES {
        return Some(Refused::TooLarge);
    }
    (!change.verify()).then_some(Refused::BadSignature)
}
