//! One page: pixels in, measures out. Same input, same bytes out, on every
//! platform and thread count.
//!
//! **May not know:** files, clock, network, pupils, people.
//!
//! The way of a page, one stage a file:
//! `bytes → decode → page → ink → ruling → lines → words → letters → aspects → Reading`

use image::{GrayImage, RgbImage};
use units::Frame;

/// A decoded photograph, turned upright by its EXIF orientation.
#[derive(Debug, Clone)]
pub struct Photo {
    /// Its pixels.
    pub rgb: RgbImage,
}

/// The flat sheet, cut out of a photograph and undone of its perspective.
#[derive(Debug, Clone)]
pub struct Page {
    /// The sheet in colour; the kept picture is made from it.
    pub rgb: RgbImage,
    /// The sheet in grey; all measuring starts from it.
    pub grey: GrayImage,
    /// Its size, scale and place in the photograph.
    pub frame: Frame,
}
