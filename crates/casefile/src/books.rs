//! The documents of one pupil, or of the practice, by name.

use std::collections::BTreeMap;

use crate::author_doc::{AuthorDoc, Outcome, Put};
use crate::{DocId, FoundingId, SignedChange, Signer, WriteRefused};

#[derive(Debug, Clone, Default)]
pub(crate) struct Books {
    docs: BTreeMap<DocId, AuthorDoc>,
}

impl Books {
    /// Takes a change whose author and signature have been checked.
    pub(crate) fn accept(&mut self, change: &SignedChange) -> Outcome {
        match self.docs.get_mut(&change.doc) {
            Some(doc) => doc.accept(change),
            None => {
                let mut doc = AuthorDoc::new(&change.doc);
                let outcome = doc.accept(change)?;
                self.docs.insert(change.doc, doc);
                Ok(outcome)
            }
        }
    }

    /// Takes a document whose changes were accepted before.
    pub(crate) fn put(&mut self, id: DocId, doc: AuthorDoc) {
        self.docs.insert(id, doc);
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

    pub(crate) fn get(&self, id: &DocId) -> Option<&AuthorDoc> {
        self.docs.get(id)
    }

    /// The documents of one founding.
    pub(crate) fn of(&self, founding: FoundingId) -> impl Iterator<Item = (&DocId, &AuthorDoc)> {
        let docs = self.docs.iter();
        docs.filter(move |(id, _)| id.founding == founding)
    }

    pub(crate) fn docs(&self) -> impl Iterator<Item = (&DocId, &AuthorDoc)> {
        self.docs.iter()
    }

    /// Lets the documents go for which this holds; their names.
    pub(crate) fn forget(&mut self, gone: impl Fn(&DocId) -> bool) -> Vec<DocId> {
        let all = self.docs.keys().copied();
        let names: Vec<DocId> = all.filter(gone).collect();
        for name in &names {
            self.docs.remove(name);
        }
        names
    }

    /// Cuts a document off after this many changes.
    pub(crate) fn cut(&mut self, id: &DocId, seq: u64) {
        let Some(doc) = self.docs.get(id) else { return };
        match seq {
            0 => drop(self.docs.remove(id)),
            _ => drop(self.docs.insert(*id, doc.upto(id, seq))),
        }
    }

    pub(crate) fn have(&self) -> BTreeMap<DocId, u64> {
        let counts = self.docs.iter().map(|(id, doc)| (*id, doc.len()));
        counts.filter(|(_, count)| *count > 0).collect()
    }
}
