//! The rows of the list of pupils, kept so that a start need not open every pupil's books. They follow
//! from the documents and can be made again at any time; each holds as long as its documents have not
//! grown or changed places with others.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use units::{Day, Problem, PupilId};

use crate::App;
use crate::api::PupilRow;
use crate::device::read_setting;
use crate::problem;

/// A row with what it was made from.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Kept {
    /// BLAKE3 of the program's version, of the day of the last lesson, and of every document's name and length.
    from: [u8; 32],
    row: PupilRow,
}

pub(crate) fn setting(pupil: PupilId) -> String {
    format!("row/{pupil}")
}

impl App {
    /// The rows of pupils, each with the day of its last lesson.
    pub(crate) fn rows(
        &self,
        pupils: Vec<(PupilId, Option<Day>)>,
    ) -> Result<Vec<PupilRow>, Problem> {
        let docs = self.inner.store.docs().map_err(problem::store)?;
        let mut hashers: BTreeMap<PupilId, blake3::Hasher> = BTreeMap::new();
        for (doc, count) in &docs {
            let Some(id) = doc.first_chunk::<16>() else {
                continue;
            };
            let hasher = hashers.entry(PupilId(*id)).or_insert_with(|| {
                blake3::Hasher::new_derive_key(concat!(
                    "pothook/app/row 2 ",
                    env!("CARGO_PKG_VERSION")
                ))
            });
            hasher.update(&(doc.len() as u64).to_le_bytes());
            hasher.update(doc);
            hasher.update(&count.to_le_bytes());
        }
        let mut rows = Vec::with_capacity(pupils.len());
        for (pupil, last_lesson) in pupils {
            let from = hashers.get_mut(&pupil).map_or([0; 32], |hasher| {
                let day = last_lesson.map_or(0, |day| day.0);
                *hasher.update(&day.to_le_bytes()).finalize().as_bytes()
            });
            let kept = read_setting::<Kept>(&self.inner.store, &setting(pupil));
            // One that cannot be read is as good as none.
            if let Some(kept) = kept.ok().flatten().filter(|kept| kept.from == from) {
                rows.push(kept.row);
                continue;
            }
            let log = self.standing(pupil);
            let row = self.row(pupil, last_lesson)?;
            let kept = Kept {
                from,
                row: row.clone(),
            };
            // Not worth failing for: without it the next start takes longer. What was forgotten since it was
            // made may stand in it: then it is not kept.
            let _ = self.while_standing_is(pupil, log.as_ref(), || {
                self.write_setting(&setting(pupil), &kept)
            });
            rows.push(row);
        }
        Ok(rows)
    }
}
