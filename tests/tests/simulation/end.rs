//! The end of a schedule: nothing goes wrong any more, everybody meets everybody until nothing moves, and
//! everything is looked at. Then what was still on its way arrives, and must change nothing.

use crate::dice::Dice;
use crate::meetings;
use crate::world::{Outcome, World};

/// Rounds of meetings after which nothing may move any more.
const MOST_ROUNDS: u64 = 12;
/// Meetings in a row between two devices, where one does not hold all.
const MOST_IN_A_ROW: usize = 30;

impl World {
    pub fn end(&mut self, seed: u64, by_post: bool) -> Outcome<[u8; 32]> {
        let mut dice = Dice::new(seed ^ 0x5EED);
        for at in 0..self.devices.len() {
            let before = dice.one_in(2);
            self.devices[at].plug.mend();
            if before {
                self.restart(at)?;
            }
        }
        if by_post {
            self.level_by_post(&mut dice)?;
        }
        self.come_level()?;
        let kept = self.inspect()?;
        self.counts.foundings += self.foundings(&kept);
        self.counts.forgotten += self.ledger.forgotten().len() as u64;
        self.counts.erased += u64::from(self.ledger.erased() == Some(true))
            + u64::from(self.others_ledger.erased() == Some(true));
        self.late_post(&mut dice)?;
        let moved = self.round()?;
        if moved {
            return Err("something moves though all is level".to_owned());
        }
        let again = self.inspect()?;
        for (at, before) in &kept {
            if !self.removed.contains(at) && again[at] != *before {
                let name = self.devices[*at].name;
                return Err(format!("late files changed what {name} holds"));
            }
        }
        let mut digest = blake3::Hasher::new();
        for (doc, changes) in again.values().flat_map(|kept| &kept.docs) {
            digest.update(&doc.encode());
            for change in changes {
                digest.update(change);
            }
        }
        Ok(*digest.finalize().as_bytes())
    }

    fn come_level(&mut self) -> Outcome {
        for _ in 0..MOST_ROUNDS {
            self.counts.rounds_to_level += 1;
            if !self.round()? {
                return Ok(());
            }
        }
        Err("the devices do not come level".to_owned())
    }

    /// Everybody meets everybody; whether anything moved.
    fn round(&mut self) -> Outcome<bool> {
        let mut moved = false;
        let paired = self.paired.clone();
        for (index, &one) in paired.iter().enumerate() {
            for &with in &paired[index + 1..] {
                moved |= self.meet_out(one, with)?;
            }
        }
        Ok(moved)
    }

    /// Two devices meet until neither has more for the other.
    fn meet_out(&mut self, one: usize, with: usize) -> Outcome<bool> {
        let mut moved = false;
        for _ in 0..MOST_IN_A_ROW {
            let met = meetings::meet(self, one, with, &meetings::plain());
            self.judge(one, with, &met)?;
            let Some(met) = met else { return Ok(moved) };
            let (Ok(report), Ok(back)) = met.sides else {
                let excused = self.removed.contains(&one) || self.removed.contains(&with);
                // Those who have not heard of each other yet do so by the others.
                return match excused || !moved {
                    true => Ok(moved),
                    false => Err("the meeting broke off".to_owned()),
                };
            };
            moved |= report.received_changes + report.received_blobs > 0;
            moved |= back.received_changes + back.received_blobs > 0;
            if !report.more && !back.more {
                return Ok(moved);
            }
            moved = true;
        }
        let name = |at: usize| self.devices[at].name;
        Err(format!(
            "{} and {} never have enough of each other",
            name(one),
            name(with)
        ))
    }

    /// The devices write to each other until nobody has anything new, some of it twice, in any order.
    fn level_by_post(&mut self, dice: &mut Dice) -> Outcome {
        for _ in 0..6 {
            let first = self.post.len();
            for from in self.paired.clone() {
                self.make_whole_post(from)?;
            }
            let mut order: Vec<usize> = (first..self.post.len()).collect();
            let mut again = order.clone();
            again.retain(|_| dice.one_in(3));
            order.extend(again);
            while !order.is_empty() {
                let letter = order.swap_remove(dice.below(order.len() as u64) as usize);
                for at in self.paired.clone() {
                    self.read(at, letter)?;
                }
            }
        }
        Ok(())
    }

    /// All files that were ever made arrive once more.
    fn late_post(&mut self, dice: &mut Dice) -> Outcome {
        for letter in 0..self.post.len() {
            for at in self.paired.clone() {
                if dice.one_in(3) {
                    self.read(at, letter)?;
                }
            }
        }
        Ok(())
    }
}
