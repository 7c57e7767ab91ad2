//! The documents of one pupil, or of the practice, by name.

use std::collections::BTreeMap;

use crate::author_doc::{AuthorDoc, Put};
use crate::{Accepted, DocId, MAX_CHANGE_BYTES, Refused, SignedChange, Signer, WriteRefused};

#[derive(Debug, Clone, Default)]
pub(crate) struct Books {
    docs: BTreeMap<DocId, AuthorDoc>,
}

impl Books {
    /// Takes a change whose author has been found to be a member.
    pub(crate) fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        if change.bytes.len() > MAX_CHANGE_BYTES {
            return Err(Refused::TooLarge);
        }
        if !change.verify() {
            return Err(Refused::BadSignature);
        }
        if let Some(doc) = self.docs.get_mut(&change.doc) {
            return doc.accept(change);
        }
        let mut doc = AuthorDoc::new(&change.doc);
        let accepted = doc.accept(change)?;
        self.docs.insert(change.doc, doc);
        Ok(accepted)
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
