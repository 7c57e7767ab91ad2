//! From the photograph to the flat sheet.

mod homography;

pub use homography::Homography;
