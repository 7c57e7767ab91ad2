//! The kept picture of a page: a JPEG of the flat sheet and nothing else.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, GrayImage, ImageFormat, Luma};
use units::{Frame, Mm, ScaleSource};

use crate::Page;
use crate::decode::{DecodeError, decode_pixels};
use crate::page::{grey_of, scale_se};
use crate::stats::round;

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
/// Picture and frame may come from another device: numbers that no page has are refused.
pub fn page_from_picture(jpeg: &[u8], frame: &Frame) -> Result<Page, DecodeError> {
    if !is_possible(frame) {
        let what = "its scale is none that a page has".to_owned();
        return Err(DecodeError::Damaged(what));
    }
    let rgb = decode_pixels(jpeg, ImageFormat::Jpeg)?;
    let grey = GrayImage::from_fn(rgb.width(), rgb.height(), |x, y| {
        Luma([grey_of(rgb.get_pixel(x, y).0)])
    });
    Ok(Page {
        rgb,
        grey,
        frame: as_kept(frame),
        photo_size: None,
    })
}

/// The frame that the picture was kept with. A picture has a whole number of pixels for each millimetre of
/// its paper; a reading that took its scale from the ruling has moved that by a few parts in a hundred, and
/// the next reading shall begin where the first began.
fn as_kept(frame: &Frame) -> Frame {
    let mut kept = Frame {
        to_photo: None,
        ..frame.clone()
    };
    if kept.scale_source == ScaleSource::Ruling {
        kept.px_per_mm = frame.px_per_mm.round().max(1.0);
        let factor = frame.px_per_mm / kept.px_per_mm;
        let whole = |side: Mm| Mm(round(side.0 * factor, 1));
        (kept.width, kept.height) = (whole(frame.width), whole(frame.height));
        kept.scale_source = ScaleSource::Paper;
        kept.scale_se = scale_se((kept.width, kept.height), 0.0);
    }
    kept
}

/// Whether a sheet can have this size and scale. Wide limits: they keep what cannot be measured out,
/// not what measures badly.
fn is_possible(frame: &Frame) -> bool {
    let side = 1.0..=2_000.0;
    side.contains(&frame.width.0)
        && side.contains(&frame.height.0)
        && (0.5..=50.0).contains(&frame.px_per_mm)
        && (0.0..=1.0).contains(&frame.scale_se.0)
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};
    use units::Ratio;

    use super::*;

    fn page() -> Page {
        let rgb = RgbImage::from_fn(160, 240, |x, y| {
            let level = 120 + (x / 2) as u8 + (y / 6) as u8;
            Rgb([level, level, level - 10])
        });
        let grey = GrayImage::from_fn(160, 240, |x, y| Luma([grey_of(rgb.get_pixel(x, y).0)]));
        Page {
            rgb,
            grey,
            frame: Frame {
                width: Mm(20.0),
                height: Mm(30.0),
                px_per_mm: 8.0,
                to_photo: Some(units::Mesh::new(2, 2, |u, v| {
                    (160.0 * u + 5.0, 240.0 * v + 7.0)
                })),
                scale_source: ScaleSource::Paper,
                scale_se: Ratio(0.004),
            },
            photo_size: Some((180, 260)),
        }
    }

    #[test]
    fn a_kept_picture_comes_back_as_the_same_page() {
        let page = page();
        let back = page_from_picture(&encode_page(&page), &page.frame).expect("a JPEG");
        assert_eq!(back.grey.dimensions(), page.grey.dimensions());
        let furthest = page.grey.iter().zip(back.grey.iter());
        assert!(furthest.map(|(a, b)| a.abs_diff(*b)).max() <= Some(3));
        assert_eq!(back.frame.to_photo, None);
        assert_eq!(back.frame.px_per_mm, page.frame.px_per_mm);
        assert_eq!(back.photo_size, None);
    }

    #[test]
    fn what_a_ruling_made_of_the_scale_is_made_again() {
        let page = page();
        // 2 % larger paper, as a reading rounds it.
        let scaled = Frame {
            px_per_mm: 7.843_137,
            width: Mm(20.4),
            height: Mm(30.6),
            scale_source: ScaleSource::Ruling,
            ..page.frame.clone()
        };
        let back = page_from_picture(&encode_page(&page), &scaled).expect("a JPEG");
        assert_eq!(back.frame.px_per_mm, 8.0);
        assert_eq!((back.frame.width, back.frame.height), (Mm(20.0), Mm(30.0)));
        assert_eq!(back.frame.scale_source, ScaleSource::Paper);
    }

    #[test]
    fn a_kept_picture_carries_no_metadata() {
        let bytes = encode_page(&page());
        // Segments before the first scan (ISO/IEC 10918-1, B.1.1.3): of the application segments
        // only APP0, the file's own JFIF header, and no comment.
        let mut at = 2;
        while bytes[at + 1] != 0xDA {
            assert_eq!(bytes[at], 0xFF);
            let code = bytes[at + 1];
            assert!(!(0xE1..=0xEF).contains(&code) && code != 0xFE, "{code:#x}");
            at += 2 + usize::from(u16::from_be_bytes([bytes[at + 2], bytes[at + 3]]));
        }
        assert!(!bytes.windows(4).any(|w| w == b"Exif" || w == b"http"));
    }

    #[test]
    fn a_frame_that_no_page_has_is_an_error() {
        let page = page();
        let jpeg = encode_page(&page);
        let bend: [fn(&mut Frame); 5] = [
            |f| f.px_per_mm = f64::NAN,
            |f| f.px_per_mm = 0.0,
            |f| f.px_per_mm = 1e300,
            |f| f.width = Mm(f64::INFINITY),
            |f| f.scale_se = Ratio(-1.0),
        ];
        for bend in bend {
            let mut frame = page.frame.clone();
            bend(&mut frame);
            let said = page_from_picture(&jpeg, &frame).err();
            assert!(matches!(said, Some(DecodeError::Damaged(_))), "{frame:?}");
        }
    }

    #[test]
    fn a_broken_picture_is_an_error() {
        let page = page();
        let bytes = encode_page(&page);
        let cut = page_from_picture(&bytes[..bytes.len() / 2], &page.frame);
        assert_eq!(cut.err(), Some(DecodeError::Truncated));
    }
}
