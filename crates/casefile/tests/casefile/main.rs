//! Case files written by several devices, honest and hostile.

mod acceptance;
mod amendments;
mod convergence;
mod fixtures;
mod founding;
mod hostile;
mod members;
mod merging;
mod newer;
mod noise_years;
mod own_letters;
mod practice;
mod reference;
mod stored_form;
mod verdicts;
mod writing;
mod years;
