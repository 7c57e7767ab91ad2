//! Two devices meeting without a network, and what goes wrong on the way.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use sync::memory::{self, Faults, Way};
use sync::{ExchangeError, Host, Limits, Report};

use crate::dice::Dice;
use crate::edits::{self, Deed, Doing};
use crate::meanwhile::Meanwhile;
use crate::world::{Outcome, World};

/// Questions of a meeting before one of which a person's work comes.
const QUESTIONS: u64 = 20;

/// How a meeting goes.
pub struct How {
    faults: Faults,
    limits: Limits,
}

/// What came of a meeting; `None` where it did not come about because a device was off.
pub type Met = Option<Happened>;

pub struct Happened {
    pub sides: (Result<Report, ExchangeError>, Result<Report, ExchangeError>),
    /// Whether something was made to go wrong on the way.
    pub faulty: bool,
    /// Whether a disk was full when it began.
    pub full: bool,
}

/// Nothing goes wrong.
pub fn plain() -> How {
    How {
        faults: Faults::default(),
        limits: Limits::default(),
    }
}

/// Half of the meetings go well; the others are slow, out of order, cut off, or small.
fn way(dice: &mut Dice) -> How {
    let mut how = plain();
    if dice.one_in(2) {
        return how;
    }
    how.faults.there = one_way(dice);
    how.faults.back = one_way(dice);
    if dice.one_in(4) {
        how.limits.changes = 1 + dice.below(6);
        how.limits.blobs = 1 + dice.below(2);
    }
    how
}

fn one_way(dice: &mut Dice) -> Way {
    let millis = |dice: &mut Dice| Duration::from_millis(dice.below(400));
    let largest = 1 << (4 + dice.below(16));
    Way {
        delay: millis(dice),
        spread: millis(dice),
        seed: dice.next(),
        bytes_per_second: dice.one_in(3).then(|| 20_000 + dice.below(2_000_000)),
        cut_after: dice.one_in(3).then(|| dice.below(largest)),
    }
}

pub fn meet(world: &World, one: usize, with: usize, how: &How) -> Met {
    let host = host(world, one)?;
    let met = hold(world, one, host, with, how)?;
    Some(world.runtime.block_on(met))
}

/// One device meets two others at once.
fn meet_two(world: &World, one: usize, with: [usize; 2], hows: &[How; 2]) -> [Met; 2] {
    let begin = |at: usize| hold(world, one, host(world, one)?, with[at], &hows[at]);
    let (first, second) = (begin(0), begin(1));
    let soon = |meeting: Option<_>| async {
        match meeting {
            Some(meeting) => Some(meeting.await),
            None => None,
        }
    };
    let both = async { tokio::join!(soon(first), soon(second)) };
    world.runtime.block_on(both).into()
}

/// As [`meet`], while some work is done on the first device before one of the meeting's questions.
fn meet_while(
    world: &World,
    one: usize,
    with: usize,
    how: &How,
    (at, work): (u64, Box<dyn FnOnce() + Send>),
) -> Met {
    let host = Meanwhile::before(host(world, one)?, at, work);
    let met = hold(world, one, host, with, how)?;
    Some(world.runtime.block_on(met))
}

fn hold(
    world: &World,
    one: usize,
    host_of_one: Arc<dyn Host>,
    with: usize,
    how: &How,
) -> Option<impl Future<Output = Happened> + use<>> {
    if one == with || !world.devices.contains_key(&with) {
        return None;
    }
    let other = (world.at(with).id, host(world, with)?);
    let caller = (world.at(one).id, host_of_one);
    let full = [one, with].iter().any(|at| world.at(*at).plug.is_full());
    let (faults, limits) = (how.faults, how.limits.clone());
    let cut = faults.there.cut_after.is_some() || faults.back.cut_after.is_some();
    Some(async move {
        Happened {
            sides: memory::meet(caller, other, &limits, &faults).await,
            faulty: cut,
            full,
        }
    })
}

fn host(world: &World, at: usize) -> Option<Arc<dyn Host>> {
    let device = world.at(at);
    if device.plug.is_gone() {
        return None;
    }
    let host = device.app().host();
    Some(match world.wrong.get(&at) {
        Some(wrong) => wrong.around(host),
        None => host,
    })
}

impl World {
    pub fn meet(&mut self, one: usize, with: usize, dice: &mut Dice) -> Outcome {
        let way = way(dice);
        let met = meet(self, one, with, &way);
        self.judge(one, with, &met)
    }

    pub fn meet_two(&mut self, one: usize, with: [usize; 2], dice: &mut Dice) -> Outcome {
        let ways = [way(dice), way(dice)];
        let met = meet_two(self, one, with, &ways);
        for (with, met) in with.into_iter().zip(&met) {
            self.judge(one, with, met)?;
        }
        Ok(())
    }

    /// Two devices meet, and a person at the first goes on working.
    pub fn meet_while(
        &mut self,
        one: usize,
        with: usize,
        doing: Doing,
        dice: &mut Dice,
    ) -> Outcome {
        let (number, pupil) = (self.next_number(), self.pupil);
        let device = self.at(one);
        let full = device.plug.is_full();
        let done: Arc<Mutex<Option<(Deed, bool)>>> = Arc::default();
        let (at, way) = (dice.below(QUESTIONS), way(dice));
        let work: Box<dyn FnOnce() + Send> = {
            let (app, plug) = (device.app().clone(), Arc::clone(&device.plug));
            let (done, mut dice) = (Arc::clone(&done), Dice::new(dice.next()));
            Box::new(move || {
                let deed = edits::perform(&app, pupil, doing, number, &mut dice);
                let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
                *done = deed.map(|deed| (deed, plug.is_gone()));
            })
        };
        let met = meet_while(self, one, with, &way, (at, work));
        let done = done.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some((deed, gone)) = done {
            self.counts.edits_in_meetings += 1;
            // Kept before the power went, it is kept.
            self.note(one, pupil, deed, full, gone)?;
        }
        self.judge(one, with, &met)
    }

    /// Whether a meeting went as it may.
    pub fn judge(&mut self, one: usize, with: usize, met: &Met) -> Outcome {
        let Some(met) = met else { return Ok(()) };
        self.counts.meetings += 1;
        let gone = [one, with].iter().any(|at| self.at(*at).plug.is_gone());
        let excused = met.faulty || met.full || gone;
        for (at, side) in [(one, &met.sides.0), (with, &met.sides.1)] {
            match side {
                Ok(report) => {
                    self.counts.changes_moved += report.received_changes;
                    self.counts.blobs_moved += report.received_blobs;
                    let name = self.at(at).name;
                    if report.refused_changes > 0 && self.removed.is_empty() {
                        return Err(format!("{name} refused honest changes: {report:?}"));
                    }
                    if report.refused_blobs > 0 {
                        return Err(format!("{name} refused blobs: {report:?}"));
                    }
                }
                Err(_) if excused => self.counts.broken_meetings += 1,
                // Until a device has heard of another, it does not let it in.
                Err(ExchangeError::Stranger | ExchangeError::NotKnown) => {}
                Err(error) => return Err(format!("the meeting broke for no reason: {error:?}")),
            }
        }
        // As people do when they are told so.
        let closed = |problem: &ExchangeError| format!("{problem:?}").contains("data-closed");
        for (at, side) in [(one, &met.sides.0), (with, &met.sides.1)] {
            if side.as_ref().is_err_and(closed) && !self.at(at).plug.is_gone() {
                self.restart(at)?;
            }
        }
        Ok(())
    }
}
