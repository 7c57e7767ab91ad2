//! The rows of the list of pupils, kept so that a start need not open every pupil's books. They follow
//! from the documents and can be made again at any time; each holds as long as its documents have not
//! grown or changed places with others.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::{Problem, PupilId};

use crate::App;
use crate::api::PupilRow;
use crate::device::read_setting;
use crate::problem;

/// A row with what it was made from.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Kept {
    /// BLAKE3 of the program's version, and of every document's name and length.
    from: [u8; 32],
    row: PupilRow,
}

pub(crate) fn setting(pupil: PupilId) -> String {
    format!("row/{pupil}")
}

impl App {
    pub(crate) fn rows(&self, pupils: Vec<PupilId>) -> Result<Vec<PupilRow>, Problem> {
        let docs = self.inner.store.docs().map_err(problem::store)?;
        let mut hashers: BTreeMap<PupilId, blake3::Hasher> = BTreeMap::new();
        for (doc, count) in &docs {
            let Some(id) = doc.first_chunk::<16>() else {
                continue;
            };
            let hasher = hashers.entry(PupilId(*id)).or_insert_with(|| {
                blake3::Hasher::new_derive_key(concat!(
                    "pothook/app/row ",
                    env!("CARGO_PKG_VERSION")
                ))
            });
            hasher.update(&(doc.len() as u64).to_le_bytes());
            hasher.update(doc);
            hasher.update(&count.to_le_bytes());
        }
        let mut rows = Vec::with_capacity(pupils.len());
        for pupil in pupils {
            let from = hashers
                .get(&pupil)
                .map_or([0; 32], |hasher| *hasher.finalize().as_bytes());
            let kept = read_setting::<Kept>(&self.inner.store, &setting(pupil));
            // One that cannot be read is as good as none.
            if let Some(kept) = kept.ok().flatten().filter(|kept| kept.from == from) {
                rows.push(kept.row);
                continue;
            }
            let row = self.row(pupil)?;
            // Not worth failing for: without it the next start takes longer.
            let _ = self.write_setting(
                &setting(pupil),
                &Kept {
                    from,
                    row: row.clone(),
                },
            );
            rows.push(row);
        }
        Ok(rows)
    }
}
