//! Carry files: made, and arriving in any order, again, late, damaged, or never.

use app::api::{CarryOpened, MakeCarry, OpenCarry};
use app::units::Problem;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;

use crate::dice::Dice;
use crate::world::{Outcome, World};

/// Smallest parts that files are split into.
const PART_BYTES: u32 = 100_000;

impl World {
    /// Makes files of what others have not acknowledged.
    pub fn make_post(&mut self, from: usize, dice: &mut Dice) -> Outcome {
        let mut others = self.places();
        others.retain(|at| *at != from);
        let to = match dice.one_in(2) {
            true => dice.pick(&others).map(|at| self.at(*at).id),
            false => None,
        };
        let part_bytes = dice.one_in(2).then_some(PART_BYTES);
        let pupil = self.pupil;
        let device = self.at(from);
        let made = device.app().make_carry(MakeCarry {
            pupil,
            to,
            part_bytes,
        });
        match made {
            Ok(made) => {
                self.counts.files_made += made.files.len() as u64;
                self.post
                    .extend(made.files.into_iter().map(|file| file.base64));
                Ok(())
            }
            // It has not heard of the other yet, or hears of nobody any more.
            Err(problem) if problem.code == "no-such-device" => Ok(()),
            Err(_) if device.plug.is_gone() => Ok(()),
            Err(problem) => Err(format!("no file was made: {problem:?}")),
        }
    }

    /// One of the files made so far arrives at a device.
    pub fn let_arrive(&mut self, at: usize, dice: &mut Dice) -> Outcome {
        let Some(letter) = dice.pick(&self.post) else {
            return Ok(());
        };
        let mut base64 = letter.clone();
        let damaged = dice.one_in(6);
        if damaged {
            let mut bytes = BASE64_STANDARD.decode(&base64).expect("its own base64");
            match dice.one_in(2) {
                true => {
                    let hit = dice.below(bytes.len() as u64) as usize;
                    bytes[hit] ^= 1 << dice.below(8);
                }
                false => bytes.truncate(dice.below(bytes.len() as u64) as usize),
            }
            base64 = BASE64_STANDARD.encode(bytes);
        }
        let full = self.at(at).plug.is_full();
        let opened = self.at(at).app().open_carry(OpenCarry { base64 });
        self.count_post(at, opened, damaged, full)
    }

    /// A device writes to all others.
    pub fn make_whole_post(&mut self, from: usize) -> Outcome {
        let made = self.at(from).app().make_carry(MakeCarry {
            pupil: self.pupil,
            to: None,
            part_bytes: None,
        });
        if let Ok(made) = made {
            self.counts.files_made += made.files.len() as u64;
            self.post
                .extend(made.files.into_iter().map(|file| file.base64));
        }
        Ok(())
    }

    /// A whole file is opened on a device.
    pub fn read(&mut self, at: usize, letter: usize) -> Outcome {
        let base64 = self.post[letter].clone();
        let opened = self.at(at).app().open_carry(OpenCarry { base64 });
        self.count_post(at, opened, false, false)
    }

    fn count_post(
        &mut self,
        at: usize,
        opened: Result<CarryOpened, Problem>,
        damaged: bool,
        full: bool,
    ) -> Outcome {
        let gone = self.at(at).plug.is_gone();
        match opened {
            Ok(_) if damaged => Err("a damaged file was taken".to_owned()),
            Ok(opened) => {
                self.counts.files_taken += 1;
                self.counts.files_waiting += u64::from(opened.waits);
                match opened.refused_changes > 0 && self.removed.is_empty() {
                    true => Err(format!("a file's honest changes were refused: {opened:?}")),
                    false => Ok(()),
                }
            }
            Err(_) if gone => Ok(()),
            Err(problem) if full && problem.code == "data-closed" => self.restart(at),
            Err(problem) if full && problem.code.starts_with("d") => Ok(()),
            Err(problem) if damaged => {
                self.counts.files_damaged += 1;
                match problem.code.starts_with("carry-") || problem.code == "not-a-carry-file" {
                    true => Ok(()),
                    false => Err(format!("a damaged file: {problem:?}")),
                }
            }
            Err(problem) => {
                self.counts.files_refused += 1;
                match &*problem.code {
                    "carry-not-for-us" | "carry-stranger" => Ok(()),
                    _ => Err(format!("a whole file was not taken: {problem:?}")),
                }
            }
        }
    }
}
