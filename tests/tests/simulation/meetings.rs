//! Two devices meeting without a network, and what goes wrong on the way.

use std::sync::Arc;
use std::time::Duration;

use sync::memory::{self, Faults, Way};
use sync::{ExchangeError, Host, Limits, Report};

use crate::dice::Dice;
use crate::meanwhile::Meanwhile;
use crate::world::World;

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
pub fn way(dice: &mut Dice) -> How {
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
pub fn meet_two(world: &World, one: usize, with: [usize; 2], hows: &[How; 2]) -> [Met; 2] {
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
pub fn meet_while(
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
    if one == with || !world.paired.contains(&with) {
        return None;
    }
    let other = (world.devices[with].id, host(world, with)?);
    let caller = (world.devices[one].id, host_of_one);
    let full = [one, with]
        .iter()
        .any(|at| world.devices[*at].plug.is_full());
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
    let device = &world.devices[at];
    if device.plug.is_gone() {
        return None;
    }
    let host = device.app().host();
    Some(match &world.wrong[at] {
        Some(wrong) => wrong.around(host),
        None => host,
    })
}
