//! Programs that end and start, and power that goes and comes back.

use crate::dice::Dice;
use crate::world::{Outcome, World};

/// Cuts in a row, the first and those while starting.
const CUTS_IN_A_ROW: usize = 3;

impl World {
    /// Ends and starts the program on a device. A disk that is full then has room again.
    pub fn restart(&mut self, at: usize) -> Outcome {
        let device = self.at_mut(at);
        device.switch_off();
        device.plug.mend();
        let started = device.switch_on();
        started.map_err(|problem| format!("{} does not start: {problem:?}", device.name))
    }

    /// Where the power went it comes back, and may go again while the program starts.
    pub fn after_cuts(&mut self, dice: &mut Dice) -> Outcome {
        for at in self.places() {
            if self.at(at).plug.is_gone() {
                self.counts.power_cuts += 1;
                self.power_comes_back(at, dice)?;
            }
        }
        Ok(())
    }

    fn power_comes_back(&mut self, at: usize, dice: &mut Dice) -> Outcome {
        for _ in 0..CUTS_IN_A_ROW {
            let again = dice.one_in(3).then(|| dice.below(30));
            let device = self.at_mut(at);
            device.switch_off();
            device.plug.restore();
            if let Some(steps) = again {
                device.plug.cut_after(steps);
            }
            let started = device.switch_on();
            if device.plug.is_gone() {
                self.counts.cuts_while_starting += 1;
                continue;
            }
            return match started {
                Ok(()) => {
                    device.plug.mend();
                    Ok(())
                }
                Err(_) if device.plug.is_full() => self.restart(at),
                Err(problem) => {
                    let name = device.name;
                    Err(format!("{name} does not start after a cut: {problem:?}"))
                }
            };
        }
        self.restart(at)
    }
}
