//! What a photograph may suffer before the page in it is measured badly: the ground on which the
//! limits of `metrics::fitness` stand.
//!
//! Three hands are drawn by the demo's drawing program, which knows nothing of how pages are
//! measured, and photographed well; then one thing goes wrong, step by step. A step counts as
//! *measured* while, over two pages of each hand, the median error of the x-height is at most 4 %
//! and at most one word in ten is lost.
//!
//! `cargo test -p pothook-tests --test fit_limits -- --ignored --nocapture` prints the tables, in
//! a few minutes; `table_of_blur` and so on, one of them.

mod limits;
mod row;
mod shot;
mod tables;
mod wrong;
