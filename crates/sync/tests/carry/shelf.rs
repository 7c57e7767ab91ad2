//! A receiving device, as simple as it can be: changes only in their order, pieces of a
//! blob only one after the other, and no doubt about what belongs where.

use std::collections::BTreeMap;

use sync::BlobId;
use sync::carry::{Opened, Parcel};

use crate::SCOPE;

#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct Shelf {
    pub documents: BTreeMap<u8, Vec<Vec<u8>>>,
    pub blobs: BTreeMap<BlobId, Vec<u8>>,
    pub parts: BTreeMap<BlobId, Vec<u8>>,
}

impl Shelf {
    /// Adds a change of its own: document, number, and what it says.
    pub fn write(&mut self, document: u8, text: &[u8]) {
        let changes = self.documents.entry(document).or_default();
        let number = (changes.len() as u32).to_be_bytes();
        changes.push([&[document], &number[..], text].concat());
    }

    pub fn take(&mut self, opened: Opened) {
        for change in opened.parcel.changes {
            let (head, _) = change.split_first_chunk::<5>().unwrap();
            let [document, number @ ..] = *head;
            let changes = self.documents.entry(document).or_default();
            if u32::from_be_bytes(number) as usize == changes.len() {
                changes.push(change);
            }
        }
        for (id, bytes) in opened.parcel.blobs {
            self.parts.remove(&id);
            self.blobs.insert(id, bytes);
        }
        for piece in opened.pieces {
            if self.blobs.contains_key(&piece.id) {
                continue;
            }
            let part = self.parts.entry(piece.id).or_default();
            if let Some(rest) = piece.after(part.len() as u64) {
                part.extend(rest);
            }
            if part.len() as u64 == piece.length {
                let bytes = self.parts.remove(&piece.id).unwrap();
                assert_eq!(*blake3::hash(&bytes).as_bytes(), piece.id.0);
                self.blobs.insert(piece.id, bytes);
            }
        }
    }

    fn have(&self) -> Vec<(Vec<u8>, u64)> {
        let documents = self.documents.iter();
        documents
            .map(|(id, changes)| (vec![*id], changes.len() as u64))
            .collect()
    }

    /// All that the other side, which has said so much, is not known to hold.
    pub fn parcel_for(&self, have: &[(Vec<u8>, u64)], held: &[BlobId]) -> Parcel {
        let seen = |document: u8| {
            let found = have.iter().find(|(id, _)| *id == [document]);
            found.map_or(0, |(_, count)| *count as usize)
        };
        let documents = self.documents.iter();
        let changes = documents.flat_map(|(id, changes)| &changes[seen(*id)..]);
        let blobs = self.blobs.iter().filter(|(id, _)| !held.contains(id));
        Parcel {
            scope: SCOPE.to_vec(),
            have: self.have(),
            changes: changes.cloned().collect(),
            blobs: blobs.map(|(id, bytes)| (*id, bytes.clone())).collect(),
            ..Parcel::default()
        }
    }

    /// What the shelf acknowledges.
    pub fn acknowledgement(&self) -> (Vec<(Vec<u8>, u64)>, Vec<BlobId>) {
        (self.have(), self.blobs.keys().copied().collect())
    }
}
