//! People at the devices: what they do is noted, and whether they were told that it is kept.

use app::api::{Nothing, OfDevice, OfferPairing};
use app::units::{Problem, PupilId, Role};

use crate::dice::Dice;
use crate::edits::{self, Deed, Doing};
use crate::scene::{SPARE, pair};
use crate::seen::{self, Seen};
use crate::world::{Outcome, World};

impl World {
    pub fn edit(&mut self, at: usize, doing: Doing, other: bool, dice: &mut Dice) -> Outcome {
        let role = self.at(at).role;
        let pupil = match other && role == Role::Tutor {
            true => self.other,
            false => self.pupil,
        };
        if !edits::does(role, doing) || self.at(at).plug.is_gone() {
            return Ok(());
        }
        let number = self.next_number();
        let full = self.at(at).plug.is_full();
        match edits::perform(self.at(at).app(), pupil, doing, number, dice) {
            Some(deed) => {
                let gone = self.at(at).plug.is_gone();
                self.note(at, pupil, deed, full, gone)
            }
            None => Ok(()),
        }
    }

    /// Notes what came of an edit before which the disk was full, or in which the power went. A refusal
    /// that nothing explains is wrong.
    pub fn note(
        &mut self,
        at: usize,
        pupil: PupilId,
        deed: Deed,
        full: bool,
        gone: bool,
    ) -> Outcome {
        self.counts.edits += 1;
        self.counts.perhaps += u64::from(gone);
        let late = self.removed.contains(&at);
        let sure = match &deed.done {
            // What a removed device goes on writing, nobody takes.
            Ok(()) => !gone && !late,
            Err(_) if gone => false,
            Err(problem) if self.is_explained(at, problem, full) => false,
            Err(problem) => return Err(format!("refused for no reason: {problem:?}")),
        };
        if let Some(page) = deed.on.filter(|_| !gone) {
            let blobs = seen::blobs(self.at(at).app(), pupil, page);
            self.ledger_of(pupil).look(page, blobs);
        }
        let closed = deed.done.as_ref().is_err_and(|it| it.code == "data-closed");
        self.ledger_of(pupil).note(at, deed, sure, late);
        match closed && !gone {
            // As people are told to.
            true => self.restart(at),
            false => Ok(()),
        }
    }

    fn is_explained(&mut self, at: usize, problem: &Problem, full: bool) -> bool {
        let by_disk = ["disk-full", "data-closed", "disk-failed"].contains(&&*problem.code);
        if full && by_disk {
            self.counts.refused_by_full_disk += 1;
            return true;
        }
        // Another founding is known, and its seed is on its way.
        if problem.code == "books-on-their-way" {
            return true;
        }
        let out = self.removed.contains(&at);
        (out || self.may_be_erased()) && ["not-written", "no-such-pupil"].contains(&&*problem.code)
    }

    /// Whether a pupil was erased, as far as is known.
    pub fn may_be_erased(&self) -> bool {
        let ledgers = [&self.ledger, &self.others_ledger];
        ledgers.iter().any(|ledger| ledger.erased() != Some(false))
    }

    pub fn remove(&mut self, by: usize, whom: usize) -> Outcome {
        let there = self.devices.contains_key(&whom);
        if whom == by || !there || self.removed.contains(&by) {
            return Ok(());
        }
        let device = self.at(whom).id;
        let app = self.at(by).app();
        let seen = |pupil| Seen::of(app, pupil).map_err(|problem| format!("{problem:?}"));
        let (seen, seen_other) = (seen(self.pupil)?, seen(self.other)?);
        // Whom it let in without the other having heard of that is out with it.
        let mut out = vec![whom];
        if self.let_in_by == Some(whom) {
            let known = app.devices(Nothing {});
            let known = known.map_err(|problem| format!("{problem:?}"))?.devices;
            let spare = self.at(SPARE).id;
            out.extend((!known.iter().any(|row| row.device == spare)).then_some(SPARE));
        }
        let plug = &self.at(by).plug;
        let was_full = plug.is_full();
        match app.remove_device(OfDevice { device }) {
            Err(problem) if problem.code == "no-such-device" => return Ok(()),
            Err(problem) if !plug.is_gone() && !was_full => {
                return Err(format!("not removed: {problem:?}"));
            }
            _ => {}
        }
        self.counts.removals += 1;
        for device in out {
            self.removed.insert(device);
            self.ledger.removed(device, &seen);
            self.others_ledger.removed(device, &seen_other);
        }
        Ok(())
    }

    /// A new phone comes into the family, paired over the network of this machine.
    pub fn new_phone(&mut self, by: usize, dice: &mut Dice) -> Outcome {
        let there = self.devices.contains_key(&SPARE);
        if there || self.removed.contains(&by) || self.ledger.erased() != Some(false) {
            return Ok(());
        }
        self.unpack(SPARE, dice.next());
        self.at(by).plug.mend();
        let pupil = self.pupil;
        pair(self.at(by), self.at(SPARE), OfferPairing::Family { pupil });
        self.let_in_by = Some(by);
        self.counts.new_phones += 1;
        Ok(())
    }
}
