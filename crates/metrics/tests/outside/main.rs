//! What measuring is held against outside this project: general-purpose libraries, the tables of
//! fonts, and published sizes of paper and rulings; and what must not change a measure.
//!
//! Sources stand beside each check. Pages are drawn by `demo`, which knows nothing of how pages are
//! measured.

#![allow(clippy::disallowed_methods)] // What tests compute need not be the same to the last bit.

mod figures;
mod fonts;
mod images;
mod papers;
mod photo;
mod recogniser;
mod same_page;
mod tables;
mod type_set;
