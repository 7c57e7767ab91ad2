//! Case files written by several devices, honest and hostile.

mod acceptance;
mod amendments;
mod borrowed_ids;
mod clock;
mod convergence;
mod crowded;
mod fixtures;
mod founding;
mod hostile;
mod late;
mod lost_seeds;
mod members;
mod merging;
mod named_blobs;
mod newer;
mod noise_years;
mod owed;
mod own_letters;
mod practice;
mod reference;
mod room;
mod stored_form;
mod takeover;
mod verdicts;
mod writing;
mod years;
