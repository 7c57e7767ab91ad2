//! `pothook keep` as a program of its own: a family's phone meets it while the laptop is off, it lets go of what
//! the laptop forgets, and it ends when the system says so.

#![cfg(unix)]

use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

use app::App;
use app::api::{Exchange, ForgetPages, KeepPage, Meeting, OfPage, OfPupil, OfferPairing, Settle};
use app::units::{PageId, PupilId, Role};
use pothook_tests::{KnownPage, open, pair_for};

/// A keeper that runs; ended when dropped.
struct Keeper {
    child: Child,
    out: BufReader<ChildStdout>,
}

impl Keeper {
    fn start(folder: &Path, key_file: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_pothook"))
            .arg("--data")
            .arg(folder)
            .arg("--key-file")
            .arg(key_file)
            .arg("keep")
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        out.read_line(&mut line).unwrap();
        assert!(line.starts_with("Keeping"), "{line}");
        Self { child, out }
    }

    /// Ends it as the system does.
    fn end(mut self) {
        let id = self.child.id().to_string();
        let sent = Command::new("kill").args(["-TERM", &id]).status().unwrap();
        assert!(sent.success());
        let ended = self.child.wait().unwrap();
        let mut rest = String::new();
        self.out.read_to_string(&mut rest).unwrap();
        assert_eq!((ended.code(), rest.as_str()), (Some(0), "Ended.\n"));
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn settled(folder: &Path, role: Role, name: &str) -> App {
    let app = open(folder).unwrap();
    let name = name.to_owned();
    app.settle(Settle { role, name }).unwrap();
    app
}

/// Meets all devices that there are.
async fn meets(app: &App) -> Vec<Meeting> {
    app.exchange(Exchange { device: None })
        .await
        .unwrap()
        .meetings
}

fn reached(met: &[Meeting]) -> Vec<&str> {
    let reached = met.iter().filter(|met| met.problem.is_none());
    reached.map(|met| met.name.as_str()).collect()
}

fn picture(app: &App, pupil: PupilId, page: PageId) -> Option<Vec<u8>> {
    let view = app.page(OfPage { pupil, page }).unwrap();
    app.picture(view.record.picture).unwrap()
}

/// Opens a folder once the program that had it has let it go.
fn look(folder: &Path) -> App {
    for _ in 0..200 {
        match open(folder) {
            Err(problem) if problem.code == "data-in-use" => {
                std::thread::sleep(Duration::from_millis(50));
            }
            answer => return answer.unwrap(),
        }
    }
    panic!("the folder stays in use");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_keeper_stands_in_for_the_laptop_and_forgets_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    // The key that opens the folders of tests.
    let key_file = at("key");
    std::fs::write(&key_file, [7; 32]).unwrap();
    let desk = settled(&at("desk"), Role::Tutor, "Study");
    let keeper = settled(&at("keeper"), Role::Tutor, "Keeper");
    let phone = settled(&at("phone"), Role::Parent, "Kitchen");
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pothook_tests::pupil_with_task(&desk, &known).unwrap();
    pair_for(&desk, OfferPairing::OwnDevice {}, &keeper, None).await;
    meets(&keeper).await;
    pair_for(&keeper, OfferPairing::Family { pupil }, &phone, None).await;
    meets(&phone).await;
    keeper.close().await;
    drop(keeper);
    desk.close().await;

    let staged = phone.stage_photo(&photo, pothook_tests::answers(pupil, task));
    let handle = staged.unwrap().handle;
    let keep = KeepPage {
        handle,
        despite: true,
    };
    let page = phone.keep_page(keep).unwrap().page;
    let kept = picture(&phone, pupil, page).unwrap();
    let running = Keeper::start(&at("keeper"), &key_file);
    assert_eq!(reached(&meets(&phone).await), ["Keeper"]);
    phone.close().await;
    assert_eq!(reached(&meets(&desk).await), ["Keeper"]);
    assert_eq!(picture(&desk, pupil, page).as_ref(), Some(&kept));
    let named = desk.page(OfPage { pupil, page }).unwrap().record.picture;
    let pages = vec![page];
    desk.forget_pages(ForgetPages { pupil, pages }).unwrap();
    meets(&desk).await;
    running.end();

    let keeper = look(&at("keeper"));
    let left = keeper.pupil(OfPupil { pupil }).unwrap().pages;
    assert!(left.is_empty());
    assert_eq!(keeper.picture(named).unwrap(), None, "nor its picture");
}
