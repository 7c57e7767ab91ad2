//! What other devices have said that they hold.

use std::collections::{BTreeMap, BTreeSet};

use casefile::{CaseFile, DocId, PupilView as Books, SignedChange};
use serde::{Deserialize, Serialize};
use sync::carry::Opened;
use units::{BlobId, DeviceId, Problem, PupilId};

use super::{name, numbers};
use crate::App;
use crate::cases::blobs_named;
use crate::device::read_setting;
use crate::problem;

/// What a device has said that it holds of a pupil.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Acknowledged {
    /// The number of the parcel, or the moment of the meeting, that said so.
    made: u64,
    /// Documents, encoded and in hexadecimal, with their number of changes.
    pub(super) have: BTreeMap<String, u64>,
    /// Blobs that it still lacked, as far as is known.
    lacks: BTreeSet<BlobId>,
}

/// How the names of the settings begin that say what devices hold of a pupil.
pub(crate) fn about(pupil: PupilId) -> String {
    format!("acknowledged/{pupil}/")
}

fn setting(device: DeviceId, pupil: PupilId) -> String {
    format!("{}{device}", about(pupil))
}

impl App {
    pub(crate) fn acknowledged(
        &self,
        device: DeviceId,
        pupil: PupilId,
    ) -> Result<Acknowledged, Problem> {
        let kept = read_setting(&self.inner.store, &setting(device, pupil))?;
        Ok(kept.unwrap_or_default())
    }

    /// Notes what a device holds after a meeting that brought both level, which began with these documents
    /// here.
    pub(crate) fn acknowledge_meeting(&self, peer: DeviceId, had: &[(DocId, u64)]) {
        for pupil in self.shared_with(peer) {
            // Not worth failing a meeting for: the next carry file is larger, and that is all.
            let _ = self.acknowledge(pupil, peer, |before, books| {
                let had = had.iter().filter(|(doc, _)| doc.pupil == pupil);
                let here = self.blobs_of(pupil)?;
                let named = books.map(blobs_named).unwrap_or_default();
                Ok(Some(Acknowledged {
                    // Only a later parcel of that device says more than this meeting.
                    made: before.made,
                    have: had.map(|(doc, count)| (name(doc), *count)).collect(),
                    // What is not here it was not given.
                    lacks: named.difference(&here).copied().collect(),
                }))
            });
        }
    }

    pub(super) fn acknowledge_parcel(
        &self,
        pupil: PupilId,
        opened: &Opened,
    ) -> Result<(), Problem> {
        self.acknowledge(pupil, opened.from, |before, books| {
            if opened.parcel.made <= before.made {
                return Ok(None);
            }
            let have = numbers(&opened.parcel.have);
            let have = have.iter().map(|(doc, count)| (name(doc), *count));
            let mut lacks: BTreeSet<BlobId> = opened.parcel.wants.iter().copied().collect();
            if opened.parcel.wants_more {
                // What it holds is not known beyond the changes.
                lacks.extend(books.map(blobs_named).unwrap_or_default());
            }
            Ok(Some(Acknowledged {
                made: opened.parcel.made,
                have: have.collect(),
                lacks,
            }))
        })
    }

    /// Notes what a device holds, unless the pupil was erased. `told` is given what was known before, and
    /// the books where any are here.
    fn acknowledge(
        &self,
        pupil: PupilId,
        device: DeviceId,
        told: impl FnOnce(Acknowledged, Option<&Books>) -> Result<Option<Acknowledged>, Problem>,
    ) -> Result<(), Problem> {
        self.unless_erased(pupil, |books| {
            let before = self.acknowledged(device, pupil)?;
            match told(before, books)? {
                Some(now) => self.write_setting(&setting(device, pupil), &now),
                None => Ok(()),
            }
        })
    }

    /// The blobs that a device holds by what it acknowledged: those that its changes name, but for
    /// those that it lacked.
    pub(crate) fn held_by(
        &self,
        pupil: PupilId,
        docs: &[(DocId, u64)],
        acknowledged: &Acknowledged,
    ) -> Result<BTreeSet<BlobId>, Problem> {
        let mut kept = Vec::new();
        for (doc, _) in docs {
            let upto = acknowledged.have.get(&name(doc)).copied().unwrap_or(0);
            let store = &self.inner.store;
            let changes = store
                .changes(&doc.encode(), 1..=upto)
                .map_err(problem::store)?;
            kept.extend(
                changes
                    .iter()
                    .filter_map(|(_, bytes)| SignedChange::decode(bytes).ok()),
            );
        }
        let named = blobs_named(&CaseFile::of_kept(pupil, kept).view());
        Ok(named.difference(&acknowledged.lacks).copied().collect())
    }
}
