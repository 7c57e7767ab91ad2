//! A quick look at a flat sheet: the light on it, and roughly where it is written on. Enough to
//! judge whether a page can be read and which way up it is; measuring looks closer.

mod light;
mod size;
mod strokes;

pub(crate) use light::Light;
pub(crate) use size::short_letters;
pub(crate) use strokes::Strokes;
