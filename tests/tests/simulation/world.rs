//! The devices of one schedule, and what happens to them step by step.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use app::units::{BlobId, PupilId};
use sync::Wanted;
use tokio::runtime::Runtime;

use crate::counts::Counts;
use crate::device::Device;
use crate::dice::Dice;
use crate::ledger::Ledger;
use crate::planted::{Plant, Wrong};
use crate::scene::{BAG, KITCHEN, LANDING, SPARE, STUDY, Scene, scene, temporary};
use crate::steps::{Plan, Step, What};

/// A year and a half in milliseconds, many times which a clock may jump.
const JUMP: i64 = 47_000_000_000;
/// Numbers below this were given out when the scene was set.
const FIRST_NUMBER: u32 = 10;

/// What is wrong, in words.
pub type Outcome<T = ()> = Result<T, String>;

pub struct World {
    /// The devices that belong, or belonged, to something, each by its place in the scene.
    pub devices: BTreeMap<usize, Device>,
    /// Those that were removed, or may have been.
    pub removed: BTreeSet<usize>,
    /// Who let the new phone in.
    pub let_in_by: Option<usize>,
    /// Whom all devices share.
    pub pupil: PupilId,
    /// Whom only the laptops know.
    pub other: PupilId,
    pub ledger: Ledger,
    pub others_ledger: Ledger,
    /// Which devices ever held a blob at the end of a step.
    pub held: BTreeMap<BlobId, BTreeSet<usize>>,
    /// Every carry file that was made, in base64.
    pub post: Vec<String>,
    pub counts: Counts,
    pub runtime: Runtime,
    /// What is wrong with devices on purpose.
    pub wrong: BTreeMap<usize, Arc<Wrong>>,
    number: u32,
    scene: &'static Scene,
    plant: Plant,
    folder: tempfile::TempDir,
}

/// What there is at the end of a schedule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ended {
    pub counts: Counts,
    /// BLAKE3 of all documents that the devices then hold.
    pub digest: [u8; 32],
}

/// Runs a schedule to its end; what is wrong, if anything is, with the step.
pub fn run(plan: &Plan, plant: Plant) -> Result<Ended, String> {
    let ran = catch_unwind(AssertUnwindSafe(|| {
        let mut world = World::new(plan, plant);
        for (at, step) in plan.steps.iter().enumerate() {
            let done = world.step(step);
            done.map_err(|wrong| format!("step {at}, {step}: {wrong}"))?;
        }
        let digest = world.end(plan.seed, plan.by_post)?;
        let counts = world.counts;
        Ok(Ended { counts, digest })
    }));
    ran.unwrap_or_else(|panic| {
        let text = panic.downcast_ref::<String>().cloned();
        let text = text.or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()));
        Err(format!("panicked: {}", text.unwrap_or_default()))
    })
}

impl World {
    fn new(plan: &Plan, plant: Plant) -> Self {
        let scene = scene(plan.two_parents);
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .start_paused(true)
            .build()
            .expect("a runtime");
        let counts = Counts {
            schedules: 1,
            ..Counts::default()
        };
        let mut world = Self {
            devices: BTreeMap::new(),
            removed: BTreeSet::new(),
            let_in_by: None,
            pupil: scene.pupil,
            other: scene.other,
            ledger: Ledger::default(),
            others_ledger: Ledger::default(),
            held: BTreeMap::new(),
            post: Vec::new(),
            counts,
            runtime,
            wrong: BTreeMap::new(),
            number: FIRST_NUMBER,
            scene,
            plant,
            folder: temporary(),
        };
        for at in [STUDY, BAG, KITCHEN] {
            world.unpack(at, plan.seed);
        }
        if plan.two_parents {
            world.unpack(LANDING, plan.seed);
        }
        let laptop = world.at(BAG).id;
        let wrong = world.devices.iter().filter_map(|(at, device)| {
            let wrong = Wrong::of(plant, *at, device.id, laptop)?;
            Some((*at, wrong))
        });
        world.wrong = wrong.collect();
        world
    }

    /// Brings in a copy of a device of the scene.
    pub fn unpack(&mut self, at: usize, seed: u64) {
        let lie = self.plant.lie();
        let device = self.scene.copy(at, self.folder.path(), seed, lie);
        self.devices.insert(at, device);
    }

    /// A device that is there.
    pub fn at(&self, at: usize) -> &Device {
        &self.devices[&at]
    }

    pub fn at_mut(&mut self, at: usize) -> &mut Device {
        self.devices.get_mut(&at).expect("a device that is there")
    }

    /// The places of all devices.
    pub fn places(&self) -> Vec<usize> {
        self.devices.keys().copied().collect()
    }

    pub fn ledger_of(&mut self, pupil: PupilId) -> &mut Ledger {
        match pupil == self.pupil {
            true => &mut self.ledger,
            false => &mut self.others_ledger,
        }
    }

    /// A number that was not given out before.
    pub fn next_number(&mut self) -> u32 {
        self.number += 1;
        self.number
    }

    fn step(&mut self, step: &Step) -> Outcome {
        let mut dice = Dice::new(step.draw);
        for at in 0..=SPARE {
            let seed = dice.next();
            if let Some(device) = self.devices.get(&at) {
                device.chances(seed);
            }
        }
        let at = step.device;
        if !self.devices.contains_key(&at) {
            return Ok(());
        }
        match step.what {
            What::Do { doing, other } => self.edit(at, doing, other, &mut dice)?,
            What::BothLaptops { doing } => {
                for laptop in [STUDY, BAG] {
                    self.edit(laptop, doing, false, &mut dice)?;
                }
            }
            What::Meet { with } => self.meet(at, with, &mut dice)?,
            What::MeetWhile { with, doing } => self.meet_while(at, with, doing, &mut dice)?,
            What::MeetTwo { with } => self.meet_two(at, with, &mut dice)?,
            What::Post => self.make_post(at, &mut dice)?,
            What::Arrive => self.let_arrive(at, &mut dice)?,
            What::Cut => {
                let longest = [12, 60, 300][dice.below(3) as usize];
                self.at(at).plug.cut_after(dice.below(longest));
            }
            What::Restart => self.restart(at)?,
            What::Jump => {
                let by = dice.below(20) as i64 - 10;
                self.at(at).jump(by * JUMP + dice.below(1_000_000) as i64);
                self.counts.jumps += 1;
            }
            What::Fill => self.at(at).plug.fill_for(1 + dice.below(25)),
            What::Remove { whom } => self.remove(at, whom)?,
            What::NewPhone => self.new_phone(at, &mut dice)?,
        }
        self.after_cuts(&mut dice)?;
        let with = match step.what {
            What::Meet { with } | What::MeetWhile { with, .. } => vec![with],
            What::MeetTwo { with } => with.to_vec(),
            What::BothLaptops { .. } => vec![STUDY, BAG],
            _ => Vec::new(),
        };
        for at in with.into_iter().chain([at]) {
            self.note_held(at);
        }
        Ok(())
    }

    /// Notes which of the blobs that are known of a device holds.
    pub fn note_held(&mut self, at: usize) {
        let there = self.devices.get(&at);
        let Some(device) = there.filter(|device| !device.plug.is_gone()) else {
            return;
        };
        let host = device.app().host();
        for (pupil, ledger) in [
            (self.pupil, &self.ledger),
            (self.other, &self.others_ledger),
        ] {
            let scope = pupil.0;
            for id in ledger.all_blobs() {
                let by = self.held.entry(id).or_default();
                // Whom it would show it to.
                let mut others = self.devices.iter().filter(|(other, _)| **other != at);
                let holds = |other: &Device| {
                    matches!(host.blob(other.id, Wanted { scope, id }), Ok(Some(_)))
                };
                if !by.contains(&at) && others.any(|(_, other)| holds(other)) {
                    by.insert(at);
                }
            }
        }
    }
}
