//! An invented practice, drawn: photographs of pages in the hands of pupils who do not exist,
//! with the exact truth of each, and a year of such pages put through the use cases.
//!
//! **May not know:** how pages are measured. What draws pages depends on nothing of the product
//! but the plain records of `units`; only the practice knows the use cases of `app`.

pub mod camera;
pub mod desk;
pub mod exif;
pub mod font;
pub mod hand;
pub mod ink;
pub mod light;
pub mod manifest;
pub mod measures;
pub mod mistakes;
pub mod noise;
pub mod outline;
pub mod page;
pub mod paper;
pub mod plane;
#[cfg(feature = "practice")]
pub mod practice;
pub mod raster;
pub mod rng;
pub mod sets;
pub mod stats;
pub mod texts;
pub mod truth;
pub mod writer;
pub mod writing;

pub use font::{FontError, Fonts, Shapes};
pub use page::{Drawn, PageSpec};
