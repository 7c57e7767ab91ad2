//! What lies in a device's folder, read past the program.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::time::Duration;

use app::units::{BlobId, DeviceId, PupilId};
use casefile::{CaseFile, DocId, PracticeBook, PracticeView, PupilView, SignedChange, Standing};
use pothook_tests::opener;
use store::{OpenError, Store};

/// Everything that a device holds.
#[derive(PartialEq)]
pub struct Kept {
    pub docs: BTreeMap<DocId, Vec<Vec<u8>>>,
    /// Without carry files that wait.
    pub blobs: BTreeSet<BlobId>,
}

/// A folder that no program has open, open.
pub struct Opened {
    pub store: Store,
    pub kept: Kept,
}

impl Opened {
    /// Opens the folder and reads it through.
    pub fn read(folder: &Path) -> Result<Self, String> {
        let store = open(folder).map_err(|error| format!("does not open: {error}"))?;
        let told = |error: store::StoreError| format!("{error}");
        store.check().map_err(told)?;
        let mut docs = BTreeMap::new();
        for (name, count) in store.docs().map_err(told)? {
            let doc = DocId::decode(&name).map_err(|error| format!("{error}"))?;
            let changes = store.changes(&name, 1..).map_err(told)?;
            if changes.len() as u64 != count {
                return Err(format!("{doc:?} has gaps"));
            }
            let changes = changes.into_iter().map(|(_, bytes)| bytes);
            docs.insert(doc, changes.collect());
        }
        let mut blobs: BTreeSet<BlobId> = store.blobs().map_err(told)?.into_iter().collect();
        let mut opened = Self {
            store,
            kept: Kept {
                docs,
                blobs: BTreeSet::new(),
            },
        };
        for waiting in opened.waiting() {
            blobs.remove(&waiting);
        }
        opened.kept.blobs = blobs;
        Ok(opened)
    }

    /// A pupil's books as they come out of the folder.
    pub fn case(&self, pupil: PupilId) -> (Standing, PupilView) {
        let case = CaseFile::of_kept(pupil, self.kept.changes(pupil));
        (case.standing().clone(), case.view())
    }

    pub fn practice(&self, id: PupilId) -> (Standing, PracticeView) {
        let practice = PracticeBook::of_kept(id, self.kept.changes(id));
        (practice.standing().clone(), practice.view())
    }

    fn setting<T: for<'de> serde::Deserialize<'de>>(&self, name: &str) -> Option<T> {
        let bytes = self.store.setting(name).ok().flatten()?;
        serde_json::from_slice(&bytes).ok()
    }

    /// The id of the tutor's practice.
    pub fn practice_id(&self) -> Option<PupilId> {
        self.setting("practice/id")
    }

    /// The names of carry files that wait.
    pub fn waiting(&self) -> Vec<BlobId> {
        self.setting("carry/waiting").unwrap_or_default()
    }

    /// Everywhere that words could be: changes, refused changes, notices, what waits.
    pub fn places(&self) -> Vec<(&'static str, Vec<u8>)> {
        let changes = self.kept.docs.values().flatten();
        let mut places: Vec<(&'static str, Vec<u8>)> =
            changes.map(|bytes| ("a change", bytes.clone())).collect();
        #[derive(serde::Deserialize)]
        struct Apart {
            bytes: Vec<u8>,
        }
        let apart: Vec<Apart> = self.setting("apart").unwrap_or_default();
        let apart = apart.into_iter().map(|apart| apart.bytes);
        places.extend(apart.map(|bytes| ("a change that was refused", bytes)));
        for name in ["notices", "peers"] {
            let bytes = self.store.setting(name).ok().flatten();
            places.extend(bytes.map(|bytes| ("a setting", bytes)));
        }
        for id in self.waiting() {
            let inside = self.store.blob(id).ok().flatten();
            let inside = inside.and_then(|sealed| self.unsealed(&sealed));
            places.extend(inside.into_iter().flatten());
        }
        places
    }

    fn unsealed(&self, sealed: &[u8]) -> Option<Vec<(&'static str, Vec<u8>)>> {
        let secret: [u8; 32] = self.store.setting("device/secret").ok()??.try_into().ok()?;
        let any = |_: DeviceId, _: &[u8]| true;
        let parcel = sync::carry::open(sealed, &secret, &any).ok()?.parcel;
        let blobs = parcel.blobs.into_iter().map(|(_, bytes)| bytes);
        let all = parcel.changes.into_iter().chain(blobs);
        Some(all.map(|bytes| ("a file that waits", bytes)).collect())
    }
}

impl Kept {
    fn changes(&self, pupil: PupilId) -> Vec<SignedChange> {
        let mine = self.docs.iter().filter(|(doc, _)| doc.pupil == pupil);
        let changes = mine.flat_map(|(_, changes)| changes);
        let decoded = changes.map(|bytes| SignedChange::decode(bytes).expect("a kept change"));
        decoded.collect()
    }
}

fn open(folder: &Path) -> Result<Store, OpenError> {
    for _ in 0..100 {
        match Store::open(folder, &opener()) {
            Err(OpenError::InUse) => std::thread::sleep(Duration::from_millis(20)),
            answer => return answer,
        }
    }
    Store::open(folder, &opener())
}
