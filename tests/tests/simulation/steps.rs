//! What happens in one schedule: drawn from a seed beforehand, so that it can be done again, and again
//! without some of its steps.

use std::fmt;

use crate::dice::Dice;
use crate::edits::Doing;
use crate::scene::{BAG, DEVICES, KITCHEN, LANDING, STUDY};

/// One step. All else about it is drawn from its own number, so that it is the same whatever was left out
/// before it.
#[derive(Debug, Clone, Copy)]
pub struct Step {
    pub device: usize,
    pub what: What,
    pub draw: u64,
}

#[derive(Debug, Clone, Copy)]
pub enum What {
    /// A person does something about the pupil that is shared, or about the other.
    Do { doing: Doing, other: bool },
    /// Both laptops do the same, without hearing of each other.
    BothLaptops { doing: Doing },
    /// Two devices meet, with or without something going wrong.
    Meet { with: usize },
    /// Two devices meet while a person goes on working on the first.
    MeetWhile { with: usize, doing: Doing },
    /// A device meets two others at once.
    MeetTwo { with: [usize; 2] },
    /// Files are made to be carried.
    Post,
    /// One of the files made so far arrives: whole, again, or damaged.
    Arrive,
    /// The power goes some steps of the disk later.
    Cut,
    /// The program is ended and started.
    Restart,
    /// The clock is set.
    Jump,
    /// The disk is full for a while.
    Fill,
    /// A device is removed.
    Remove { whom: usize },
    /// A new phone is paired over the network.
    NewPhone,
}

/// A whole schedule.
#[derive(Debug, Clone)]
pub struct Plan {
    pub seed: u64,
    pub two_parents: bool,
    pub steps: Vec<Step>,
    /// Whether the devices come level by files before they meet.
    pub by_post: bool,
}

impl Plan {
    pub fn of(seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let two_parents = dice.one_in(4);
        let by_post = dice.one_in(5);
        let count = 20 + dice.below(41);
        let devices: Vec<usize> = match two_parents {
            true => vec![STUDY, BAG, KITCHEN, LANDING],
            false => vec![STUDY, BAG, KITCHEN],
        };
        let removes = dice.one_in(4);
        let erases = dice.one_in(25);
        let steps = (0..count).map(|_| {
            let device = *dice.pick(&devices).unwrap_or(&STUDY);
            let what = draw(&mut dice, device, &devices, removes, erases);
            let draw = dice.next();
            let device = by(what, device);
            Step { device, what, draw }
        });
        Self {
            seed,
            two_parents,
            steps: steps.collect(),
            by_post,
        }
    }
}

/// Who does it: some things only a laptop does.
fn by(what: What, device: usize) -> usize {
    let laptop = match device {
        BAG => BAG,
        _ => STUDY,
    };
    match what {
        What::Remove { whom: BAG } | What::BothLaptops { .. } => STUDY,
        What::Remove { .. } | What::NewPhone => laptop,
        What::Do {
            doing: Doing::Erase,
            ..
        } => laptop,
        _ => device,
    }
}

fn draw(dice: &mut Dice, device: usize, devices: &[usize], removes: bool, erases: bool) -> What {
    let others: Vec<usize> = devices.iter().copied().filter(|it| *it != device).collect();
    let one = |dice: &mut Dice| *dice.pick(&others).unwrap_or(&STUDY);
    match dice.below(100) {
        0..48 => What::Do {
            doing: doing(dice, device),
            other: device <= BAG && dice.one_in(10),
        },
        48..50 => {
            let both = [
                Doing::Forget,
                Doing::Shorten,
                Doing::StartFocus,
                Doing::Name,
            ];
            let doing = *dice.pick(&both).unwrap_or(&Doing::Forget);
            What::BothLaptops { doing }
        }
        50..66 => What::Meet { with: one(dice) },
        66..71 => What::MeetWhile {
            with: one(dice),
            doing: doing(dice, device),
        },
        71..74 => What::MeetTwo {
            with: [one(dice), one(dice)],
        },
        74..79 => What::Post,
        79..86 => What::Arrive,
        86..92 => What::Cut,
        92..94 => What::Restart,
        94..96 => What::Jump,
        96..98 => What::Fill,
        98 if removes && dice.one_in(2) => What::NewPhone,
        98 if removes => {
            let whom = match dice.below(4) {
                0 => BAG,
                1 => LANDING,
                _ => KITCHEN,
            };
            What::Remove { whom }
        }
        99 if erases => What::Do {
            doing: Doing::Erase,
            other: dice.one_in(2),
        },
        _ => What::Meet { with: one(dice) },
    }
}

fn doing(dice: &mut Dice, device: usize) -> Doing {
    let doings: &[Doing] = match device <= BAG {
        true => &Doing::TUTORS,
        false => &Doing::PARENTS,
    };
    *dice.pick(doings).unwrap_or(&Doing::Page)
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = |at: usize| DEVICES[at].0;
        let device = name(self.device);
        match self.what {
            What::Do { doing, other } => {
                let of = if other { " about the other pupil" } else { "" };
                write!(f, "{device}: {doing:?}{of}")
            }
            What::BothLaptops { doing } => write!(f, "both laptops: {doing:?}"),
            What::Meet { with } => write!(f, "{device} meets {}", name(with)),
            What::MeetWhile { with, doing } => {
                write!(f, "{device} meets {} and meanwhile: {doing:?}", name(with))
            }
            What::MeetTwo { with: [one, two] } => {
                write!(f, "{device} meets {} and {}", name(one), name(two))
            }
            What::Remove { whom } => write!(f, "{device} removes {}", name(whom)),
            other => write!(f, "{device}: {other:?}"),
        }
    }
}
