//! Where every schedule begins: a tutor's two laptops and a parent's phone, paired, with two pupils, a
//! task, a page and a mark; the same with a second parent; and a phone that nobody knows yet.
//!
//! They are paired over the network once a run, as people do it; each schedule works on copies.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::Duration;

use app::api::*;
use app::units::{
    Hand, LetterModel, Mm, Paper, Profile, PupilId, Role, Ruling, SchoolYear, TaskKind,
};
use tokio::runtime::Runtime;

use crate::device::Device;
use crate::dice::Dice;
use crate::edits::{self, Doing};
use crate::plug::{Lie, copy};

/// The devices in their order, with the seeds of their keys.
pub const DEVICES: [(&str, Role, u64); 5] = [
    ("Study", Role::Tutor, 1),
    ("Bag", Role::Tutor, 2),
    ("Kitchen", Role::Parent, 3),
    ("Landing", Role::Parent, 4),
    ("Spare", Role::Parent, 5),
];
pub const STUDY: usize = 0;
pub const BAG: usize = 1;
pub const KITCHEN: usize = 2;
pub const LANDING: usize = 3;
pub const SPARE: usize = 4;

/// The folders of one beginning.
pub struct Scene {
    folder: PathBuf,
    /// Whom the families' devices share.
    pub pupil: PupilId,
    /// Whom only the tutor's laptops know.
    pub other: PupilId,
}

/// A folder in memory where there is such a place: thousands of files are forced onto the disk.
pub fn temporary() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm").unwrap_or_else(|_| tempfile::tempdir().expect("a folder"))
}

struct Both {
    _folder: tempfile::TempDir,
    three: Scene,
    four: Scene,
}

/// The beginning with one parent, or with two.
pub fn scene(two_parents: bool) -> &'static Scene {
    static SCENES: OnceLock<Both> = OnceLock::new();
    let both = SCENES.get_or_init(build);
    match two_parents {
        true => &both.four,
        false => &both.three,
    }
}

impl Scene {
    /// A copy of one device, switched on.
    pub fn copy(&self, at: usize, into: &Path, seed: u64, lie: Lie) -> Device {
        let (name, role, _) = DEVICES[at];
        let folder = into.join(name);
        copy(&self.folder.join(name), &folder);
        let seed = seed ^ (at as u64 + 1) << 56;
        Device::open(name, role, &folder, seed, lie).expect("a copy opens")
    }
}

fn build() -> Both {
    let folder = temporary();
    let (three, four) = (folder.path().join("three"), folder.path().join("four"));
    let devices: Vec<Device> = DEVICES
        .iter()
        .map(|(name, role, seed)| {
            let folder = three.join(name);
            let device = Device::open(name, *role, &folder, *seed, Lie::None).expect("it opens");
            let (role, name) = (*role, (*name).to_owned());
            device.app().settle(Settle { role, name }).expect("settled");
            device
        })
        .collect();
    let profile = |name: &str| AddPupil {
        profile: Profile {
            name: name.to_owned(),
            year: SchoolYear(4),
            hand: Hand::Left,
            model: LetterModel::unjoined(),
            paper: Paper::A5,
            ruling: Ruling::Lines { pitch: Mm(8.0) },
        },
    };
    let study = devices[STUDY].app();
    let pupil = study.add_pupil(profile("Wren")).expect("a pupil").pupil;
    let other = study.add_pupil(profile("Robin")).expect("a pupil").pupil;
    study.set_task(task(pupil)).expect("a task");
    pair(&devices[STUDY], &devices[BAG], OfferPairing::OwnDevice {});
    pair(
        &devices[STUDY],
        &devices[KITCHEN],
        OfferPairing::Family { pupil },
    );
    let mut dice = Dice::new(9);
    for (number, doing, of) in [
        (0, Doing::Page, pupil),
        (1, Doing::Mark, pupil),
        (2, Doing::Page, other),
        (3, Doing::Note, other),
    ] {
        let deed = edits::perform(devices[STUDY].app(), of, doing, number, &mut dice);
        deed.expect("something to do").done.expect("done");
    }
    drop(devices);
    copy(&three, &four);
    let open = |at: usize| {
        let (name, role, seed) = DEVICES[at];
        Device::open(name, role, &four.join(name), seed + 100, Lie::None).expect("it opens")
    };
    pair(&open(STUDY), &open(LANDING), OfferPairing::Family { pupil });
    let scene = |folder| Scene {
        folder,
        pupil,
        other,
    };
    Both {
        three: scene(three),
        four: scene(four),
        _folder: folder,
    }
}

fn task(pupil: PupilId) -> SetTask {
    SetTask {
        pupil,
        kind: TaskKind::Copied,
        text: Some(vec!["the wren sat on the gate".to_owned()]),
        paper: None,
        ruling: None,
        minutes: 10,
        focus: None,
        set_on: None,
    }
}

/// Lets a device meet all that it can reach; again where it could not: a busy machine may answer too late.
async fn meet(device: &Device) {
    let mut problems = Vec::new();
    for _ in 0..10 {
        let met = device.app().exchange(Exchange { device: None }).await;
        let met = met.expect("a meeting").meetings;
        if met.iter().any(|met| met.problem.is_none()) {
            return;
        }
        problems.extend(met.into_iter().map(|met| met.problem));
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    panic!("nobody was met: {problems:?}");
}

/// Pairs two devices over the network of this machine, people included, and lets them meet.
pub fn pair(tutor: &Device, other: &Device, offer: OfferPairing) {
    let runtime = Runtime::new().expect("threads");
    runtime.block_on(async {
        pothook_tests::pair_for(tutor.app(), offer, other.app(), None).await;
        meet(other).await;
        tutor.app().close().await;
        other.app().close().await;
    });
}
