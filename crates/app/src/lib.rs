//! The use cases: one verb each with a named input and output, and the events
//! that a screen hears. The only crate that shells call; it joins the rooms.
//!
//! **May not know:** windows, HTTP, the command line.
//!
//! A change, local or from afar, enters at one point (`cases`): case file →
//! store → [`api::Event::Changed`]. A screen sends a verb, hears the event and
//! asks for its view again.

mod about;
mod amending;
pub mod api;
mod backup;
#[cfg(feature = "ts")]
pub mod bindings;
mod book;
mod carrying;
mod cases;
mod company;
mod crops;
mod detail;
mod device;
mod drafts;
pub mod example;
mod export;
mod figures;
mod forgetting;
mod furniture;
mod hand_over;
mod holding;
mod home;
mod host;
mod instances;
mod lessons;
pub mod letters;
mod marks;
pub mod measuring;
mod meeting;
mod membership;
mod notices;
mod opening;
mod pace;
mod pages;
mod pairing;
mod peers;
mod problem;
mod progress;
mod pupils;
mod reminders;
mod returning;
mod rows;
mod staging;
mod tasks;
mod verbs;

pub use casefile::MAX_MINUTES;
pub use device::{App, Chance, Clock, random};
pub use opening::{Opening, key_file, passphrase};
pub use staging::photo_gone;
pub use store::{Key, Opener, Passphrase, Surroundings};

// The words of every input and output, so that shells need no other room.
pub use units;
