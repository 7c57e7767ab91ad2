//! Renewals under a keyring that answers late or never.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, mpsc};
use std::thread;
use std::time::Duration;

use crate::keyring::{Keyring, Patient};
use crate::store::locked;
use crate::{Opener, Store, StoreError, Surroundings};

/// What a keyring that takes its time holds.
type Entries = BTreeMap<String, Vec<u8>>;

/// A keyring in memory that lets one question to keep something wait until it is let go, as it does while a
/// person should type a password. Clones are the same keyring.
#[derive(Clone, Default)]
struct Slow(Arc<(Mutex<Asked>, Condvar)>);

#[derive(Default)]
struct Asked {
    entries: Entries,
    /// How many more are answered before one has to wait.
    before: Option<usize>,
    waits: bool,
    let_go: bool,
}

impl Slow {
    /// The next question after so many has to wait.
    fn hold(&self, before: usize) {
        let mut asked = locked(&self.0.0);
        asked.before = Some(before);
        asked.let_go = false;
    }

    /// Until a question waits, or none does any more.
    fn until_waits(&self, waits: bool) {
        let (asked, changed) = &*self.0;
        let other = |asked: &mut Asked| asked.waits != waits;
        drop(changed.wait_while(locked(asked), other).unwrap());
    }

    /// The question that waits is answered.
    fn let_go(&self) {
        locked(&self.0.0).let_go = true;
        self.0.1.notify_all();
    }

    fn entries(&self) -> Entries {
        locked(&self.0.0).entries.clone()
    }
}

impl Keyring for Slow {
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
        Ok(locked(&self.0.0).entries.get(name).cloned())
    }

    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String> {
        let (asked, changed) = &*self.0;
        let mut asked = locked(asked);
        let before = asked.before.take();
        asked.before = before.and_then(|before| before.checked_sub(1));
        if before == Some(0) {
            asked.waits = true;
            changed.notify_all();
            asked = changed.wait_while(asked, |asked| !asked.let_go).unwrap();
            asked.waits = false;
        }
        asked.entries.insert(name.to_owned(), secret.to_vec());
        changed.notify_all();
        Ok(())
    }

    fn remove(&self, name: &str) -> Result<(), String> {
        locked(&self.0.0).entries.remove(name);
        Ok(())
    }
}

fn open(folder: &Path, keyring: impl Keyring + 'static, patience: Duration) -> Store {
    let around = Surroundings {
        keyring: Arc::new(Patient::new(keyring, patience)),
        ..Surroundings::default()
    };
    Store::open_in(folder, &Opener::Keyring, &around).unwrap()
}

/// So long that only a test which fails lasts so long.
const LONG: Duration = Duration::from_secs(60);

/// What a power cut at this moment would leave.
fn cut(folder: &Path, keyring: &Slow) -> (tempfile::TempDir, Slow) {
    let copy = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            std::fs::copy(&path, copy.path().join(path.file_name().unwrap())).unwrap();
        }
    }
    let other = Slow::default();
    locked(&other.0.0).entries = keyring.entries();
    (copy, other)
}

/// The folder opens with what its keyring holds and has what was written; then it is under one key.
fn assert_opens(folder: &Path, keyring: &Slow, written: &[u8]) {
    let store = open(folder, keyring.clone(), LONG);
    store.check().unwrap();
    assert_eq!(store.setting("name").unwrap().as_deref(), Some(written));
    drop(store);
    let lengths: Vec<_> = keyring.entries().values().map(Vec::len).collect();
    assert_eq!(lengths, [32]);
}

/// The first question of a renewal keeps both keys, the second only the new one.
const QUESTIONS: [usize; 2] = [0, 1];

#[test]
fn reading_and_writing_do_not_wait_for_the_keyring() {
    for question in QUESTIONS {
        let folder = tempfile::tempdir().unwrap();
        let keyring = Slow::default();
        let store = open(folder.path(), keyring.clone(), LONG);
        store.set_setting("name", b"before").unwrap();
        let old = keyring.entries();
        keyring.hold(question);
        thread::scope(|threads| {
            let renewal = threads.spawn(|| store.renew_key());
            keyring.until_waits(true);
            let (tell, done) = mpsc::channel();
            let store = &store;
            threads.spawn(move || {
                store.set_setting("name", b"meanwhile").unwrap();
                tell.send(store.setting("name").unwrap()).unwrap();
            });
            let read = done.recv_timeout(LONG / 3);
            let (copy, other) = cut(folder.path(), &keyring);
            keyring.let_go();
            renewal.join().unwrap().unwrap();
            assert_eq!(read.unwrap().as_deref(), Some(&b"meanwhile"[..]));
            assert_opens(copy.path(), &other, b"meanwhile");
        });
        assert_ne!(keyring.entries(), old);
        drop(store);
        assert_opens(folder.path(), &keyring, b"meanwhile");
    }
}

/// A renewal whose keyring does not answer this one of its questions.
fn given_up(question: usize) {
    let folder = tempfile::tempdir().unwrap();
    let keyring = Slow::default();
    // Long enough for a keyring that answers on a machine that has other things to do.
    let store = open(folder.path(), keyring.clone(), Duration::from_secs(3));
    store.set_setting("name", b"before").unwrap();
    let old = keyring.entries();
    keyring.hold(question);
    let refused = store.renew_key();
    assert!(
        matches!(refused, Err(StoreError::NoKeyring(_))),
        "{refused:?}"
    );
    store.set_setting("name", b"after").unwrap();
    let again = store.renew_key();
    // Whatever came of that: what was given up is answered now, and must not undo it.
    keyring.let_go();
    keyring.until_waits(false);
    let (copy, other) = cut(folder.path(), &keyring);
    assert_opens(copy.path(), &other, b"after");
    assert!(matches!(again, Err(StoreError::NoKeyring(_))), "{again:?}");
    // The thread that was answered may take a moment more to end.
    let renewed = (0..1000).any(|_| {
        thread::sleep(Duration::from_millis(10));
        store.renew_key().is_ok()
    });
    assert!(renewed);
    assert_eq!(store.setting("name").unwrap(), Some(b"after".to_vec()));
    assert_ne!(keyring.entries(), old);
    drop(store);
    assert_opens(folder.path(), &keyring, b"after");
}

#[test]
fn a_keyring_that_never_takes_the_next_key_ends_a_renewal() {
    given_up(QUESTIONS[0]);
}

#[test]
fn a_keyring_that_never_lets_go_of_the_former_key_ends_a_renewal() {
    given_up(QUESTIONS[1]);
}
