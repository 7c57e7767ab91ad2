//! What lies in a device's folder, read past the program.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::time::Duration;

use app::units::{BlobId, DeviceId, PupilId};
use casefile::{CaseFile, DocId, PracticeBook, PracticeView, PupilView, SignedChange, Standing};
use pothook_tests::opener;
use store::{OpenError, Store, StoreError};

use crate::world::Outcome;

/// Everything that a device holds of books and pages.
pub struct Kept {
    pub docs: BTreeMap<DocId, Vec<Vec<u8>>>,
    /// Without carry files that wait.
    pub blobs: BTreeSet<BlobId>,
}

/// A folder that was read while no program had it open.
pub struct Opened {
    pub kept: Kept,
    /// Blobs of which a part is there.
    pub parts: BTreeSet<BlobId>,
    store: Option<Store>,
}

impl Opened {
    /// Opens the folder and reads it through.
    pub fn read(folder: &Path) -> Outcome<Self> {
        let store = open(folder).map_err(|error| format!("does not open: {error}"))?;
        let told = |error: StoreError| format!("{error}");
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
        let blobs = store.blobs().map_err(told)?.into_iter().collect();
        let parts = store.parts().map_err(told)?.into_iter().collect();
        let mut opened = Self {
            kept: Kept { docs, blobs },
            parts,
            store: Some(store),
        };
        for waiting in opened.waiting() {
            opened.kept.blobs.remove(&waiting);
        }
        Ok(opened)
    }

    /// Lets a program have the folder.
    pub fn close(&mut self) {
        self.store = None;
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

    fn bytes(&self, name: &str) -> Option<Vec<u8>> {
        self.store.as_ref()?.setting(name).ok().flatten()
    }

    fn setting<T: for<'de> serde::Deserialize<'de>>(&self, name: &str) -> Option<T> {
        let bytes = self.bytes(name)?;
        Some(serde_json::from_slice(&bytes).expect("a setting of the shape that is looked for"))
    }

    /// The id of the tutor's practice.
    pub fn practice_id(&self) -> Option<PupilId> {
        self.setting("practice/id")
    }

    fn waiting(&self) -> Vec<BlobId> {
        #[derive(serde::Deserialize)]
        struct Waiting {
            file: BlobId,
        }
        let waiting: Vec<Waiting> = self.setting("carry/waits").unwrap_or_default();
        waiting.into_iter().map(|waiting| waiting.file).collect()
    }

    /// The names of all settings.
    pub fn names(&self) -> Vec<String> {
        let names = self.store.as_ref().map(|store| store.settings_under(""));
        names.expect("an open folder").expect("settings")
    }

    /// A setting that tells more of a pupil than that there was one.
    pub fn about(&self, pupil: PupilId) -> Option<String> {
        let heads = ["acknowledged", "blob", "row"].map(|head| format!("{head}/{pupil}"));
        let tells = |name: &String| heads.iter().any(|head| name.starts_with(head));
        self.names().into_iter().find(tells)
    }

    /// Everywhere that words could be: changes, settings, what waits.
    pub fn places(&self) -> Vec<(&'static str, Vec<u8>)> {
        let changes = self.kept.docs.values().flatten();
        let mut places: Vec<(&'static str, Vec<u8>)> =
            changes.map(|bytes| ("a change", bytes.clone())).collect();
        for name in self.names() {
            places.extend(self.bytes(&name).map(|bytes| ("a setting", bytes)));
        }
        let waiting = self.waiting().into_iter();
        let inside = waiting.filter_map(|id| self.unsealed(id)).flatten();
        places.extend(inside.map(|bytes| ("a file that waits", bytes)));
        places
    }

    /// What is in a carry file that waits.
    fn unsealed(&self, id: BlobId) -> Option<Vec<Vec<u8>>> {
        let sealed = self.store.as_ref()?.blob(id).ok()??;
        let secret: [u8; 32] = self.bytes("device/secret")?.try_into().ok()?;
        let any = |_: DeviceId, _: &[u8]| true;
        let parcel = sync::carry::open(&sealed[..], &secret, &any).ok()?.parcel;
        let blobs = parcel.blobs.into_iter().map(|(_, bytes)| bytes);
        Some(parcel.changes.into_iter().chain(blobs).collect())
    }
}

impl Kept {
    /// What is there of a pupil, without blobs.
    pub fn of(&self, pupil: PupilId) -> Self {
        let docs = self.docs.iter().filter(|(doc, _)| doc.pupil == pupil);
        Self {
            docs: docs.map(|(doc, all)| (*doc, all.clone())).collect(),
            blobs: BTreeSet::new(),
        }
    }

    fn changes(&self, pupil: PupilId) -> Vec<SignedChange> {
        let mine = self.docs.iter().filter(|(doc, _)| doc.pupil == pupil);
        let changes = mine.flat_map(|(_, changes)| changes);
        let decoded = changes.map(|bytes| SignedChange::decode(bytes).expect("a kept change"));
        decoded.collect()
    }
}

/// As for the devices' own: a lock that a starting program holds is asked for again.
fn open(folder: &Path) -> Result<Store, OpenError> {
    for _ in 0..100 {
        match Store::open(folder, &opener()) {
            Err(OpenError::InUse) => std::thread::sleep(Duration::from_millis(20)),
            answer => return answer,
        }
    }
    Store::open(folder, &opener())
}
