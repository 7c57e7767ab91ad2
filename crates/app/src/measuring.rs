//! Measuring a photograph without keeping it.

use image::RgbImage;
use units::{Expectation, Problem};

use crate::api::{Measured, advise};
use crate::problem;

/// Stage pictures by name, first stage first.
pub type Stages = Vec<(&'static str, RgbImage)>;

/// Measures one photograph. Needs no data folder.
///
/// # Errors
/// The bytes are no picture that can be read, or no page is found in it. A page that
/// is found but unfit is measured all the same; its checks say what is wrong.
pub fn measure_photo(bytes: &[u8], expect: &Expectation) -> Result<Measured, Problem> {
    let page = flat(bytes, expect)?;
    let fitness = metrics::fitness(&page);
    let checks = advise(&fitness);
    Ok(Measured {
        reading: metrics::read_page(&page, expect, fitness),
        checks,
    })
}

/// Draws what each stage saw in a photograph.
///
/// # Errors
/// As [`measure_photo`].
pub fn draw_stages(bytes: &[u8], expect: &Expectation) -> Result<Stages, Problem> {
    Ok(metrics::draw_stages(&flat(bytes, expect)?, expect))
}

fn flat(bytes: &[u8], expect: &Expectation) -> Result<metrics::Page, Problem> {
    let photo = metrics::decode(bytes).map_err(problem::decode)?;
    metrics::find_page(&photo, expect).map_err(problem::page)
}

/// A stage picture as PNG.
pub fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .expect("memory takes every byte, and PNG every size that a page has");
    bytes.into_inner()
}
