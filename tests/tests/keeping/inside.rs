//! What a device that lies, or runs a newer version, would write: made past the program, from what lies in
//! its folder. And a look into folders.

use std::path::Path;
use std::time::Duration;

use app::units::{DeviceId, PupilId};
use casefile::{BookKind, DocId, FoundingId, SignedChange};
use ed25519_dalek::{Signer, SigningKey};
use pothook_tests::opener;
use store::{OpenError, Store, Write};

use crate::people::Device;

/// A format of changes that this version does not read.
pub const NEWER: u8 = 200;

/// Opens a folder past the program, once that has let it go.
pub fn store(folder: &Path) -> Store {
    for _ in 0..200 {
        match Store::open(folder, &opener()) {
            Err(OpenError::InUse) => std::thread::sleep(Duration::from_millis(50)),
            answer => return answer.unwrap(),
        }
    }
    panic!("the folder stays in use");
}

/// Looks into the folder of a device while the program is off.
pub fn look<T>(device: Device, at: impl FnOnce(&Store) -> T) -> (Device, T) {
    let Device { app, folder } = device;
    drop(app);
    let seen = at(&store(folder.path()));
    let app = pothook_tests::open(folder.path()).unwrap();
    (Device { app, folder }, seen)
}

/// A pupil whose books cannot be read.
pub struct Spoilt {
    doc: Vec<u8>,
    count: u64,
}

impl Spoilt {
    pub fn of(store: &Store, pupil: PupilId) -> Self {
        let its = |name: &[u8]| {
            DocId::decode(name).is_ok_and(|doc| doc.pupil == pupil && doc.book == BookKind::Tutor)
        };
        let mut docs = store.docs().unwrap().into_iter();
        let (doc, count) = docs.find(|(name, _)| its(name)).unwrap();
        store.append(&doc, count + 1, b"no change").unwrap();
        Self { doc, count }
    }

    pub fn mend(&self, store: &Store) {
        let Self { doc, count } = self;
        let kept = store.changes(doc, 1..=*count).unwrap().into_iter();
        let again = kept.map(|(seq, bytes)| Write::Change {
            doc: doc.clone(),
            seq,
            bytes,
        });
        let writes = std::iter::once(Write::RemoveDoc(doc.clone())).chain(again);
        store.transaction(writes.collect()).unwrap();
    }
}

pub fn practice_id(store: &Store) -> PupilId {
    serde_json::from_slice(&store.setting("practice/id").unwrap().unwrap()).unwrap()
}

/// What the device of a folder would write next in its own document of the first founding, signed by it.
pub fn next_change(
    store: &Store,
    pupil: PupilId,
    book: BookKind,
    format: u8,
    bytes: Vec<u8>,
) -> SignedChange {
    let secret = store.setting("device/secret").unwrap().unwrap();
    let key = SigningKey::from_bytes(&secret.try_into().unwrap());
    let doc = DocId {
        pupil,
        book,
        founding: FoundingId::FIRST,
        author: DeviceId(key.verifying_key().to_bytes()),
    };
    let docs = store.docs().unwrap();
    let there = docs.iter().find(|(name, _)| *name == doc.encode());
    let seq = there.map_or(0, |(_, count)| *count) + 1;
    // As `casefile::SignedChange` describes it.
    let mut message = b"pothook/casefile/signed-change\x02".to_vec();
    message.extend(doc.encode());
    message.extend(seq.to_le_bytes());
    message.push(format);
    message.extend(blake3::hash(&bytes).as_bytes());
    let change = SignedChange {
        doc,
        seq,
        format,
        bytes,
        signature: key.sign(&message).to_bytes(),
    };
    assert!(change.verify());
    change
}

/// All that lies in a folder of some documents.
pub fn changes(store: &Store, which: impl Fn(&DocId) -> bool) -> Vec<Vec<u8>> {
    let docs = store.docs().unwrap().into_iter();
    let docs = docs.filter(|(name, _)| which(&DocId::decode(name).unwrap()));
    docs.flat_map(|(name, _)| store.changes(&name, 1..).unwrap())
        .map(|(_, bytes)| bytes)
        .collect()
}

/// Hands a device the changes of another's documents that it has not, but no pictures; as a meeting that
/// breaks off. `which` picks the documents.
pub fn hand_over(from: &Device, to: &Device, which: impl Fn(&DocId) -> bool) {
    let (giving, taking) = (from.app.host(), to.app.host());
    let here = taking.have(from.id()).unwrap();
    for (name, count) in giving.have(to.id()).unwrap() {
        let doc = DocId::decode(&name).unwrap();
        let known = here.iter().find(|(known, _)| *known == name);
        let known = known.map_or(0, |(_, count)| *count);
        if which(&doc) && known < count {
            let changes = giving.changes(to.id(), &name, known).unwrap();
            taking.accept(from.id(), changes).unwrap();
        }
    }
}
