//! Who belongs, what is forgotten, what is carried by hand, and what comes back: several devices of a
//! tutor and two families, through the use cases.

#[path = "keeping/again.rs"]
mod again;
#[path = "keeping/belonging.rs"]
mod belonging;
#[path = "keeping/bytes.rs"]
mod bytes;
#[path = "keeping/carrying.rs"]
mod carrying;
#[path = "keeping/devices.rs"]
mod devices;
// Of the dice and of what is invented with them only some is needed here.
#[allow(dead_code)]
#[path = "simulation/dice.rs"]
mod dice;
#[path = "keeping/erased.rs"]
mod erased;
#[path = "keeping/forgetting.rs"]
mod forgetting;
#[path = "keeping/inside.rs"]
mod inside;
#[path = "simulation/invented.rs"]
mod invented;
#[path = "keeping/left_over.rs"]
mod left_over;
#[path = "keeping/mended.rs"]
mod mended;
#[path = "keeping/newer.rs"]
mod newer;
#[path = "keeping/old_year.rs"]
mod old_year;
#[path = "keeping/older.rs"]
mod older;
#[path = "keeping/order.rs"]
mod order;
#[path = "keeping/paper.rs"]
mod paper;
#[path = "keeping/people.rs"]
mod people;
#[path = "keeping/photographs.rs"]
mod photographs;
#[path = "keeping/restoring.rs"]
mod restoring;
#[path = "keeping/retaken.rs"]
mod retaken;
#[path = "keeping/served.rs"]
mod served;
#[path = "keeping/starting.rs"]
mod starting;
#[path = "keeping/traces.rs"]
mod traces;
#[path = "keeping/unkept.rs"]
mod unkept;
#[path = "keeping/unswept.rs"]
mod unswept;
#[path = "keeping/waiting.rs"]
mod waiting;
