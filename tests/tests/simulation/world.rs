//! The devices of one schedule, and what happens to them step by step.

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};

use app::api::{OfDevice, OfferPairing};
use app::units::{Problem, PupilId, Role};
use tokio::runtime::Runtime;

use crate::counts::Counts;
use crate::device::Device;
use crate::dice::Dice;
use crate::edits::{self, Deed, Doing};
use crate::ledger::Ledger;
use crate::meetings::{self, Met};
use crate::planted::{Plant, Wrong};
use crate::post::Letter;
use crate::scene::{BAG, KITCHEN, LANDING, SPARE, STUDY, Scene, pair, scene, temporary};
use crate::seen::{self, Seen};
use crate::steps::{Plan, Step, What};

/// A year and a half in milliseconds, many times which a clock may jump.
const JUMP: i64 = 47_000_000_000;
/// Numbers below this were given out when the scene was set.
const FIRST_NUMBER: u32 = 10;

/// What is wrong, in words.
pub type Outcome<T = ()> = Result<T, String>;

pub struct World {
    pub devices: Vec<Device>,
    /// The devices that belong, or belonged, to something.
    pub paired: Vec<usize>,
    /// Those that were removed, or may have been.
    pub removed: BTreeSet<usize>,
    pub pupil: PupilId,
    pub other: PupilId,
    pub ledger: Ledger,
    pub others_ledger: Ledger,
    pub post: Vec<Letter>,
    pub counts: Counts,
    pub runtime: Runtime,
    pub wrong: Vec<Option<Arc<Wrong>>>,
    number: u32,
    _folder: tempfile::TempDir,
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
        let folder = temporary();
        let scene: &Scene = scene(plan.two_parents);
        let devices = scene.copies(folder.path(), plan.seed, plant.lie());
        let mut paired = vec![STUDY, BAG, KITCHEN];
        paired.extend(plan.two_parents.then_some(LANDING));
        let wrong = (0..devices.len())
            .map(|at| Wrong::of(plant, at, devices[at].id, devices[BAG].id))
            .collect();
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .start_paused(true)
            .build()
            .expect("a runtime");
        let counts = Counts {
            schedules: 1,
            ..Counts::default()
        };
        Self {
            devices,
            paired,
            removed: BTreeSet::new(),
            pupil: scene.pupil,
            other: scene.other,
            ledger: Ledger::default(),
            others_ledger: Ledger::default(),
            post: Vec::new(),
            counts,
            runtime,
            wrong,
            number: FIRST_NUMBER,
            _folder: folder,
        }
    }

    fn step(&mut self, step: &Step) -> Outcome {
        let mut dice = Dice::new(step.draw);
        for device in &self.devices {
            device.chances(dice.next());
        }
        let device = step.device;
        if !self.paired.contains(&device) {
            return Ok(());
        }
        match step.what {
            What::Do { doing, other } => self.edit(device, doing, other, &mut dice)?,
            What::BothLaptops { doing } => {
                for laptop in [STUDY, BAG] {
                    self.edit(laptop, doing, false, &mut dice)?;
                }
            }
            What::Meet { with } => self.meet(device, with, &mut dice)?,
            What::MeetWhile { with, doing } => self.meet_while(device, with, doing, &mut dice)?,
            What::MeetTwo { with } => self.meet_two(device, with, &mut dice)?,
            What::Post => self.make_post(device, &mut dice)?,
            What::Arrive => self.let_arrive(device, &mut dice)?,
            What::Cut => {
                let longest = [12, 60, 300][dice.below(3) as usize];
                self.devices[device].plug.cut_after(dice.below(longest));
            }
            What::Restart => self.restart(device)?,
            What::Jump => {
                let by = dice.below(20) as i64 - 10;
                self.devices[device].jump(by * JUMP + dice.below(1_000_000) as i64);
                self.counts.jumps += 1;
            }
            What::Fill => self.devices[device].plug.fill_for(1 + dice.below(25)),
            What::Remove { whom } => self.remove(device, whom)?,
            What::NewPhone => self.new_phone(device)?,
        }
        self.after_cuts(&mut dice)
    }

    pub fn ledger_of(&mut self, pupil: PupilId) -> &mut Ledger {
        match pupil == self.pupil {
            true => &mut self.ledger,
            false => &mut self.others_ledger,
        }
    }

    fn edit(&mut self, at: usize, doing: Doing, other: bool, dice: &mut Dice) -> Outcome {
        let device = &self.devices[at];
        let pupil = match other && device.role == Role::Tutor {
            true => self.other,
            false => self.pupil,
        };
        if !edits::does(device.role, doing) || device.plug.is_gone() {
            return Ok(());
        }
        self.number += 1;
        let full = device.plug.is_full();
        let Some(deed) = edits::perform(device.app(), pupil, doing, self.number, dice) else {
            return Ok(());
        };
        self.note(at, pupil, deed, full)
    }

    /// Notes what came of an edit; a refusal that nothing explains is wrong.
    fn note(&mut self, at: usize, pupil: PupilId, deed: Deed, full: bool) -> Outcome {
        let gone = self.devices[at].plug.is_gone();
        self.counts.edits += 1;
        let sure = match &deed.done {
            // What a removed device goes on writing, nobody takes.
            Ok(()) => !gone && !self.removed.contains(&at),
            Err(_) if gone => false,
            Err(problem) => {
                if !self.is_explained(at, problem, full) {
                    return Err(format!("refused for no reason: {problem:?}"));
                }
                false
            }
        };
        self.counts.perhaps += u64::from(gone);
        if let Some(page) = deed.on.filter(|_| !gone) {
            let blobs = seen::blobs(self.devices[at].app(), pupil, page);
            self.ledger_of(pupil).look(page, blobs);
        }
        let closed = matches!(&deed.done, Err(problem) if problem.code == "data-closed");
        self.ledger_of(pupil).note(at, deed, sure);
        // What people are told to do.
        if closed && !gone {
            self.restart(at)?;
        }
        Ok(())
    }

    fn is_explained(&mut self, at: usize, problem: &Problem, full: bool) -> bool {
        let by_disk = ["disk-full", "data-closed", "disk-failed"].contains(&&*problem.code);
        if full && by_disk {
            self.counts.refused_by_full_disk += 1;
            return true;
        }
        // Another founding is known, and its seed is on its way.
        if problem.message.contains("no such seed") {
            return true;
        }
        let out = self.removed.contains(&at);
        let erased =
            self.ledger.erased() != Some(false) || self.others_ledger.erased() != Some(false);
        (out || erased) && ["not-written", "no-such-pupil"].contains(&&*problem.code)
    }

    /// Ends and starts the program on a device. A disk that is full then has room again.
    pub fn restart(&mut self, at: usize) -> Outcome {
        let device = &mut self.devices[at];
        device.switch_off();
        device.plug.mend();
        match device.switch_on() {
            Ok(()) => Ok(()),
            Err(problem) => Err(format!("{} does not start: {problem:?}", device.name)),
        }
    }

    /// Where the power went, it comes back, and may go again while the program starts.
    pub fn after_cuts(&mut self, dice: &mut Dice) -> Outcome {
        for at in 0..self.devices.len() {
            if !self.devices[at].plug.is_gone() {
                continue;
            }
            self.counts.power_cuts += 1;
            for _ in 0..3 {
                self.devices[at].switch_off();
                self.devices[at].plug.restore();
                if dice.one_in(3) {
                    self.devices[at].plug.cut_after(dice.below(30));
                }
                let started = self.devices[at].switch_on();
                if !self.devices[at].plug.is_gone() {
                    let full = self.devices[at].plug.is_full();
                    match started {
                        Ok(()) => self.devices[at].plug.mend(),
                        Err(_) if full => self.restart(at)?,
                        Err(problem) => {
                            let name = self.devices[at].name;
                            return Err(format!("{name} does not start after a cut: {problem:?}"));
                        }
                    }
                    break;
                }
                self.counts.cuts_while_starting += 1;
            }
            if self.devices[at].plug.is_gone() {
                self.restart(at)?;
            }
        }
        Ok(())
    }

    fn meet(&mut self, one: usize, with: usize, dice: &mut Dice) -> Outcome {
        let way = meetings::way(dice);
        let met = meetings::meet(self, one, with, &way);
        self.judge(one, with, &met)
    }

    fn meet_two(&mut self, one: usize, with: [usize; 2], dice: &mut Dice) -> Outcome {
        let ways = [meetings::way(dice), meetings::way(dice)];
        let met = meetings::meet_two(self, one, with, &ways);
        for (with, met) in with.into_iter().zip(&met) {
            self.judge(one, with, met)?;
        }
        Ok(())
    }

    fn meet_while(&mut self, one: usize, with: usize, doing: Doing, dice: &mut Dice) -> Outcome {
        self.number += 1;
        let (number, pupil) = (self.number, self.pupil);
        let device = &self.devices[one];
        let full = device.plug.is_full();
        let done: Arc<Mutex<Option<(Deed, bool)>>> = Arc::default();
        let (at, way) = (dice.below(20), meetings::way(dice));
        let work: Box<dyn FnOnce() + Send> = {
            let (app, plug) = (device.app().clone(), Arc::clone(&device.plug));
            let (done, mut dice) = (Arc::clone(&done), Dice::new(dice.next()));
            Box::new(move || {
                let deed = edits::perform(&app, pupil, doing, number, &mut dice);
                let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
                *done = deed.map(|deed| (deed, plug.is_gone()));
            })
        };
        let met = meetings::meet_while(self, one, with, &way, (at, work));
        let done = done.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some((deed, gone)) = done {
            self.counts.edits_in_meetings += 1;
            // Kept before the power went, it is kept.
            match gone || !self.devices[one].plug.is_gone() {
                true => self.note(one, pupil, deed, full)?,
                false => {
                    let sure = deed.done.is_ok() && !self.removed.contains(&one);
                    self.counts.edits += 1;
                    self.ledger_of(pupil).note(one, deed, sure);
                }
            }
        }
        self.judge(one, with, &met)
    }

    /// Whether a meeting went as it may.
    pub fn judge(&mut self, one: usize, with: usize, met: &Met) -> Outcome {
        let Some(met) = met else { return Ok(()) };
        self.counts.meetings += 1;
        let faulty = met.faulty
            || [one, with].iter().any(|at| {
                let plug = &self.devices[*at].plug;
                plug.is_gone() || met.full
            });
        for (at, side) in [(one, &met.sides.0), (with, &met.sides.1)] {
            match side {
                Ok(report) => {
                    self.counts.changes_moved += report.received_changes;
                    self.counts.blobs_moved += report.received_blobs;
                    if report.refused_changes > 0 && self.removed.is_empty() {
                        let name = self.devices[at].name;
                        return Err(format!("{name} refused honest changes: {report:?}"));
                    }
                    if report.refused_blobs > 0 {
                        return Err(format!("blobs were refused: {report:?}"));
                    }
                }
                Err(_) if faulty => self.counts.broken_meetings += 1,
                Err(sync::ExchangeError::Stranger | sync::ExchangeError::NotKnown) => {}
                Err(error) => return Err(format!("the meeting broke for no reason: {error:?}")),
            }
        }
        // As people do when they are told so.
        for at in [one, with] {
            let closed =
                |problem: &sync::ExchangeError| format!("{problem:?}").contains("data-closed");
            let sides = [&met.sides.0, &met.sides.1];
            let told = sides.iter().any(|side| side.as_ref().is_err_and(closed));
            if told && met.full && !self.devices[at].plug.is_gone() {
                self.restart(at)?;
            }
        }
        Ok(())
    }

    fn remove(&mut self, by: usize, whom: usize) -> Outcome {
        if whom == by || !self.paired.contains(&whom) || self.removed.contains(&by) {
            return Ok(());
        }
        let device = self.devices[whom].id;
        let app = self.devices[by].app();
        let seen = |pupil| Seen::of(app, pupil).map_err(|problem| format!("{problem:?}"));
        let (seen, seen_other) = (seen(self.pupil)?, seen(self.other)?);
        match app.remove_device(OfDevice { device }) {
            Err(problem) if problem.code == "no-such-device" => return Ok(()),
            Err(problem)
                if !self.devices[by].plug.is_gone() && !self.devices[by].plug.is_full() =>
            {
                return Err(format!("not removed: {problem:?}"));
            }
            _ => {}
        }
        self.counts.removals += 1;
        self.removed.insert(whom);
        self.ledger.removed(whom, &seen);
        self.others_ledger.removed(whom, &seen_other);
        Ok(())
    }

    fn new_phone(&mut self, by: usize) -> Outcome {
        if self.paired.contains(&SPARE) || self.removed.contains(&by) {
            return Ok(());
        }
        if self.ledger.erased() != Some(false) {
            return Ok(());
        }
        self.devices[by].plug.mend();
        let pupil = self.pupil;
        pair(
            &self.devices[by],
            &self.devices[SPARE],
            OfferPairing::Family { pupil },
        );
        self.paired.push(SPARE);
        self.counts.new_phones += 1;
        Ok(())
    }
}
