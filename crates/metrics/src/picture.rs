//! The kept picture of a page: a JPEG of the flat sheet and nothing else.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, GrayImage, ImageFormat, Luma};
use units::Frame;

use crate::Page;
use crate::decode::{DecodeError, decode_pixels};
use crate::page::grey_of;

/// JPEG quality: at 90 the letter edges of a page move by less than a hundredth of a millimetre.
const QUALITY: u8 = 90;

/// The page as a JPEG, without metadata of any kind.
pub fn encode_page(page: &Page) -> Vec<u8> {
    let mut out = Vec::new();
    let (w, h) = page.rgb.dimensions();
    JpegEncoder::new_with_quality(&mut out, QUALITY)
        .encode(page.rgb.as_raw(), w, h, ExtendedColorType::Rgb8)
        .expect("a page is smaller than a JPEG may be, and memory does not fail to be written");
    out
}

/// A kept picture back into a page, to be measured again. Its way back to the photograph is gone.
pub fn page_from_picture(jpeg: &[u8], frame: &Frame) -> Result<Page, DecodeError> {
    let rgb = decode_pixels(jpeg, ImageFormat::Jpeg)?;
    let grey = GrayImage::from_fn(rgb.width(), rgb.height(), |x, y| {
        Luma([grey_of(rgb.get_pixel(x, y).0.map(f32::from))])
    });
    Ok(Page {
        rgb,
        grey,
        frame: Frame {
            to_photo: None,
            ..frame.clone()
        },
        edge_clearance: None,
    })
}
