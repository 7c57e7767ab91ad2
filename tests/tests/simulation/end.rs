//! The end of a schedule: nothing goes wrong any more, everybody meets everybody until nothing moves, and
//! everything is looked at. Then what was still on its way arrives, and must change nothing.

use app::units::PupilId;

use crate::dice::Dice;
use crate::meetings;
use crate::scene::STUDY;
use crate::world::{Outcome, World};

/// Rounds of meetings after which nothing may move any more.
const MOST_ROUNDS: u64 = 12;
/// Meetings in a row between two devices, where one does not hold all.
const MOST_IN_A_ROW: usize = 30;
/// Rounds in which everybody writes to everybody.
const ROUNDS_OF_POST: usize = 4;

impl World {
    /// BLAKE3 of all documents at the end.
    pub fn end(&mut self, seed: u64, by_post: bool) -> Outcome<[u8; 32]> {
        let mut dice = Dice::new(seed ^ 0x5EED);
        for at in self.places() {
            self.at(at).plug.mend();
            if dice.one_in(2) {
                self.restart(at)?;
            }
        }
        if by_post {
            self.level_by_post(&mut dice)?;
        }
        self.come_level()?;
        self.check_shut_out()?;
        let before = self.inspect()?;
        self.count_ends(&before);
        self.late_post(&mut dice)?;
        if self.round()? {
            return Err("something moves though all is level".to_owned());
        }
        self.check_unmoved(&before)
    }

    fn count_ends(&mut self, opened: &crate::checks::Folders) {
        for pupil in [self.pupil, self.other] {
            let standing = opened[&STUDY].case(pupil).0;
            self.counts.foundings += standing.foundings.len() as u64;
            self.counts.forgotten += standing.forgotten.len() as u64;
            self.counts.erased += u64::from(standing.erased);
        }
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
        let places = self.places();
        for (index, &one) in places.iter().enumerate() {
            for &with in &places[index + 1..] {
                let met = self.meet_out(one, with)?;
                // Two that are out may not have heard of that, and go on with each other.
                moved |= met && !(self.removed.contains(&one) && self.removed.contains(&with));
            }
        }
        for at in places {
            self.note_held(at);
        }
        Ok(moved)
    }

    /// Two devices meet until neither has more for the other; whether anything moved.
    fn meet_out(&mut self, one: usize, with: usize) -> Outcome<bool> {
        let mut moved = false;
        for _ in 0..MOST_IN_A_ROW {
            let met = meetings::meet(self, one, with, &meetings::plain());
            self.judge(one, with, &met)?;
            let Some(met) = met else { return Ok(moved) };
            let (Ok(report), Ok(back)) = met.sides else {
                // They have not heard of each other yet, or know that one was removed.
                return Ok(moved);
            };
            moved |= report.received_changes + report.received_blobs > 0;
            moved |= back.received_changes + back.received_blobs > 0;
            if !report.more && !back.more {
                return Ok(moved);
            }
            moved = true;
        }
        let name = |at: usize| self.at(at).name;
        let (one, with) = (name(one), name(with));
        Err(format!("{one} and {with} never have enough of each other"))
    }

    /// Whoever was removed is let in by nobody, and everybody else by everybody.
    fn check_shut_out(&self) -> Outcome {
        if self.may_be_erased() {
            // Whoever has heard of it tells the others, and no list says to whom.
            return Ok(());
        }
        let members = self.members_of(self.pupil)?;
        for (at, device) in &self.devices {
            for (other, them) in self.devices.iter().filter(|(other, _)| *other != at) {
                if members.contains(other) {
                    let knows = them.app().host().knows(device.id);
                    if knows != members.contains(at) {
                        let (name, them) = (device.name, them.name);
                        return Err(format!("{them} lets {name} in: {knows}"));
                    }
                }
            }
        }
        Ok(())
    }

    /// The places of the devices that belong to a pupil by what the first laptop knows.
    fn members_of(&self, pupil: PupilId) -> Outcome<Vec<usize>> {
        let list = self.at(STUDY).app().devices(app::api::Nothing {});
        let list = list.map_err(|problem| format!("{problem:?}"))?.devices;
        let belongs = |at: &usize| {
            let row = list.iter().find(|row| row.device == self.at(*at).id);
            *at == STUDY || row.is_some_and(|row| row.pupils.contains(&pupil))
        };
        Ok(self.places().into_iter().filter(belongs).collect())
    }

    /// The devices write to each other until nobody has anything new, some of it twice, in any order.
    fn level_by_post(&mut self, dice: &mut Dice) -> Outcome {
        for _ in 0..ROUNDS_OF_POST {
            let first = self.post.len();
            for from in self.places() {
                self.make_whole_post(from)?;
            }
            let mut order: Vec<usize> = (first..self.post.len()).collect();
            let mut again = order.clone();
            again.retain(|_| dice.one_in(3));
            order.extend(again);
            while !order.is_empty() {
                let letter = order.swap_remove(dice.below(order.len() as u64) as usize);
                for at in self.places() {
                    self.read(at, letter)?;
                }
            }
        }
        Ok(())
    }

    /// Files that were ever made arrive once more.
    fn late_post(&mut self, dice: &mut Dice) -> Outcome {
        for letter in 0..self.post.len() {
            for at in self.places() {
                if dice.one_in(3) {
                    self.read(at, letter)?;
                }
            }
        }
        Ok(())
    }
}
