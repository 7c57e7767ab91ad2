//! Who belongs, what is forgotten, what is carried by hand, and what comes back: several devices of a
//! tutor and two families, through the use cases.

#[path = "keeping/carrying.rs"]
mod carrying;
#[path = "keeping/devices.rs"]
mod devices;
#[path = "keeping/forgetting.rs"]
mod forgetting;
#[path = "keeping/people.rs"]
mod people;
#[path = "keeping/restoring.rs"]
mod restoring;
