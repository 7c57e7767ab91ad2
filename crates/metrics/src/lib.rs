//! One page: pixels in, measures out. Same input, same bytes out, on every
//! platform and thread count.
//!
//! **May not know:** files, clock, network, pupils, people.
//!
//! The way of a page, one stage a file:
//! `bytes → decode → page → ink → ruling → lines → words → letters → aspects → Reading`
//!
//! Every stage is a span of the `tracing` crate at level `trace`: whoever wants to know where the
//! time goes subscribes, and brings the clock.

#![cfg_attr(test, allow(clippy::disallowed_methods))]

mod aspects;
mod decode;
mod edges;
pub mod elementary;
mod fit;
mod glance;
mod ink;
mod letters;
mod lines;
mod maths;
mod page;
mod picture;
mod pieces;
mod reading;
mod recogniser;
mod ruling;
mod stages;
mod stats;
mod text;
mod transpose;
mod words;

pub use decode::{DecodeError, bare, decode};
pub use fit::fitness;
pub use page::{Homography, PageError, find_page, find_page_at};
pub use picture::{encode_page, page_from_picture};
pub use reading::{ENGINE, read_page};
pub use stages::draw_stages;

use image::{GrayImage, RgbImage};
use units::Frame;

/// A decoded photograph, turned upright by its EXIF orientation.
#[derive(Debug, Clone)]
pub struct Photo {
    /// Its pixels.
    pub rgb: RgbImage,
}

/// The flat sheet, cut out of a photograph and undone of its perspective.
///
/// The centre of pixel (i, j) lies at ((i + 0.5) / s, (j + 0.5) / s) mm from the sheet's top left
/// corner, where s is `frame.px_per_mm`.
#[derive(Debug, Clone)]
pub struct Page {
    /// The sheet in colour; the kept picture is made from it.
    pub rgb: RgbImage,
    /// The sheet in grey; all measuring starts from it.
    pub grey: GrayImage,
    /// Its size, scale and place in the photograph.
    pub frame: Frame,
    /// Width and height of the photograph, pixels; `None` once only the page picture is kept.
    pub photo_size: Option<(u32, u32)>,
}
