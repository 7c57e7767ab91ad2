//! Whole practices in one process, with everything going wrong that can: meetings cut off, power cuts
//! between any two steps of the disk, full disks, clocks that jump, files lost and doubled. What is drawn
//! from a seed happens the same each time.
//!
//! `POTHOOK_SEED=… cargo test -p pothook-tests --test simulation one -- --nocapture` does one schedule
//! again, and says which of its steps are needed for whatever is wrong.

#[path = "simulation/checks.rs"]
mod checks;
#[path = "simulation/compare.rs"]
mod compare;
#[path = "simulation/counts.rs"]
mod counts;
#[path = "simulation/device.rs"]
mod device;
#[path = "simulation/dice.rs"]
mod dice;
#[path = "simulation/directed.rs"]
mod directed;
#[path = "simulation/edits.rs"]
mod edits;
#[path = "simulation/end.rs"]
mod end;
#[path = "simulation/invented.rs"]
mod invented;
#[path = "simulation/kept.rs"]
mod kept;
#[path = "simulation/ledger.rs"]
mod ledger;
#[path = "simulation/meanwhile.rs"]
mod meanwhile;
#[path = "simulation/meetings.rs"]
mod meetings;
#[path = "simulation/people.rs"]
mod people;
#[path = "simulation/planted.rs"]
mod planted;
#[path = "simulation/plug.rs"]
mod plug;
#[path = "simulation/post.rs"]
mod post;
#[path = "simulation/power.rs"]
mod power;
#[path = "simulation/runs.rs"]
mod runs;
#[path = "simulation/scene.rs"]
mod scene;
#[path = "simulation/seen.rs"]
mod seen;
#[path = "simulation/steps.rs"]
mod steps;
#[path = "simulation/world.rs"]
mod world;
