//! Pages seen in ways that a careful parent avoids and a hurried one does not: leaning far, turned
//! any way, a corner out of the picture, on any paper; and one page photographed again and again.
//! The pages are drawn by the demo's drawing program, which knows nothing of how pages are measured.
//!
//! `cargo test -p pothook-tests --test views -- --nocapture` prints the figures.

mod again;
mod drawn;
mod ways;
