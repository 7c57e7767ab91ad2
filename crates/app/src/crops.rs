//! Small pictures cut from kept pages, made whenever they are wanted; none is stored.

use std::sync::Arc;

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, RgbImage, imageops};
use units::{BlobId, BoxMm, Frame, Mm, Problem};

use crate::App;
use crate::api::Crop;
use crate::device::locked;
use crate::verbs::off_thread;

/// White round what is cut out, in x-heights.
const MARGIN: f64 = 0.35;
/// Longest side of a crop, pixels: a word across a whole page is shorter.
const LONGEST: u32 = 4_000;
/// JPEG quality: pen strokes a few pixels wide stay clean.
const QUALITY: u8 = 85;
/// Width of a page picture made small, pixels.
const THUMB_WIDTH: u32 = 240;
/// Most of them held in memory, some 10 KB each.
const MOST_THUMBS: usize = 400;

impl Crop {
    /// The crop of an address, `BLOB` and `X-Y-WIDTH-HEIGHT.jpg`; `None` where it is none.
    pub fn from_address(blob: &str, name: &str) -> Option<Self> {
        let numbers = name.strip_suffix(".jpg")?.split('-');
        let numbers = numbers.map(|number| {
            let digits = number.bytes().all(|byte| byte.is_ascii_digit());
            digits.then(|| number.parse::<u32>().ok()).flatten()
        });
        let [x, y, width, height] = numbers.collect::<Option<Vec<_>>>()?[..] else {
            return None;
        };
        Some(Self {
            of: blob.parse().ok()?,
            x,
            y,
            width,
            height,
        })
    }
}

/// A page picture unpacked, so that many crops of one page unpack it once.
pub(crate) struct Cut {
    of: BlobId,
    picture: Arc<RgbImage>,
}

impl App {
    /// Part of a kept page picture (JPEG); what lies beyond the picture's edge is left out. `None`
    /// where no picture of this name is here, or the part is outside it or too large.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn crop(&self, crop: Crop) -> Result<Option<Vec<u8>>, Problem> {
        let part = self.part(crop)?;
        Ok(part.as_ref().map(packed))
    }

    /// As [`App::crop`], off the caller's thread: for shells that serve a screen meanwhile.
    ///
    /// # Errors
    /// As [`App::crop`], and `broke-off` where the program stumbles over the picture.
    pub async fn crop_off_thread(&self, crop: Crop) -> Result<Option<Vec<u8>>, Problem> {
        let app = self.clone();
        off_thread(move || app.crop(crop)).await
    }

    /// The pixels of a crop.
    pub(crate) fn part(&self, crop: Crop) -> Result<Option<RgbImage>, Problem> {
        let sides = 1..=LONGEST;
        if !sides.contains(&crop.width) || !sides.contains(&crop.height) {
            return Ok(None);
        }
        let Some(picture) = self.unpacked(crop.of)? else {
            return Ok(None);
        };
        let (w, h) = picture.dimensions();
        let Crop { x, y, .. } = crop;
        if x >= w || y >= h {
            return Ok(None);
        }
        let (width, height) = (crop.width.min(w - x), crop.height.min(h - y));
        Ok(Some(
            imageops::crop_imm(&*picture, x, y, width, height).to_image(),
        ))
    }

    /// A kept page picture made small (JPEG, 240 pixels wide); `None` where no picture of this name is here.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn thumb(&self, of: BlobId) -> Result<Option<Vec<u8>>, Problem> {
        if let Some(made) = locked(&self.inner.thumbs).get(&of) {
            return Ok(Some(made.clone()));
        }
        let Some(jpeg) = self.picture(of)? else {
            return Ok(None);
        };
        let Ok(photo) = metrics::decode(&jpeg) else {
            return Ok(None);
        };
        let small = smaller(&photo.rgb, THUMB_WIDTH, u32::MAX);
        let small = packed(&small);
        let mut thumbs = locked(&self.inner.thumbs);
        while thumbs.len() >= MOST_THUMBS {
            thumbs.pop_first();
        }
        thumbs.insert(of, small.clone());
        Ok(Some(small))
    }

    /// As [`App::thumb`], off the caller's thread.
    ///
    /// # Errors
    /// As [`App::thumb`], and `broke-off` where the program stumbles over the picture.
    pub async fn thumb_off_thread(&self, of: BlobId) -> Result<Option<Vec<u8>>, Problem> {
        let app = self.clone();
        off_thread(move || app.thumb(of)).await
    }

    fn unpacked(&self, of: BlobId) -> Result<Option<Arc<RgbImage>>, Problem> {
        // Held while unpacking: a screen asks for a page's crops all at once, and one unpacks for all.
        let mut cut = locked(&self.inner.cut);
        if let Some(last) = cut.as_ref().filter(|last| last.of == of) {
            return Ok(Some(last.picture.clone()));
        }
        let Some(jpeg) = self.picture(of)? else {
            return Ok(None);
        };
        let Ok(photo) = metrics::decode(&jpeg) else {
            return Ok(None);
        };
        let picture = Arc::new(photo.rgb);
        *cut = Some(Cut {
            of,
            picture: picture.clone(),
        });
        Ok(Some(picture))
    }
}

/// At most so wide and so high, in the same proportion.
pub(crate) fn smaller(picture: &RgbImage, width: u32, height: u32) -> RgbImage {
    let (w, h) = picture.dimensions();
    let share = (f64::from(width) / f64::from(w)).min(f64::from(height) / f64::from(h));
    if share >= 1.0 {
        return picture.clone();
    }
    let side = |length: u32| ((f64::from(length) * share).round() as u32).max(1);
    imageops::thumbnail(picture, side(w), side(h))
}

/// As a JPEG.
pub(crate) fn packed(picture: &RgbImage) -> Vec<u8> {
    let mut jpeg = Vec::new();
    let (w, h) = picture.dimensions();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .encode(picture.as_raw(), w, h, ExtendedColorType::Rgb8)
        .expect("a crop is smaller than a JPEG may be, and memory takes every byte");
    jpeg
}

/// The part of a kept picture that shows a place on the sheet with a margin round it; `None` where
/// nothing of the place is on the sheet. The numbers may come from another device.
pub(crate) fn around(of: BlobId, frame: &Frame, place: &BoxMm, x_height: Mm) -> Option<Crop> {
    let margin = MARGIN * x_height.0;
    let px = |mm: f64, side: Mm| (mm.clamp(0.0, side.0.max(0.0)) * frame.px_per_mm).round();
    let x0 = px(place.x0.0 - margin, frame.width);
    let y0 = px(place.y0.0 - margin, frame.height);
    let x1 = px(place.x1.0 + margin, frame.width);
    let y1 = px(place.y1.0 + margin, frame.height);
    let crop = Crop {
        of,
        x: x0 as u32,
        y: y0 as u32,
        width: (x1 - x0) as u32,
        height: (y1 - y0) as u32,
    };
    (crop.width > 0 && crop.height > 0).then_some(crop)
}

#[cfg(test)]
mod tests {
    use units::{Ratio, ScaleSource};

    use super::*;

    const OF: BlobId = BlobId([7; 32]);

    fn frame() -> Frame {
        Frame {
            width: Mm(148.0),
            height: Mm(210.0),
            px_per_mm: 10.0,
            to_photo: None,
            scale_source: ScaleSource::Sheet,
            scale_se: Ratio(0.001),
        }
    }

    fn place(x0: f64, y0: f64, x1: f64, y1: f64) -> BoxMm {
        BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        }
    }

    #[test]
    fn an_address_is_read_and_others_are_not() {
        let blob = OF.to_string();
        let read = Crop::from_address(&blob, "193-293-34-44.jpg");
        let wanted = Crop {
            of: OF,
            x: 193,
            y: 293,
            width: 34,
            height: 44,
        };
        assert_eq!(read, Some(wanted));
        for name in [
            "",
            ".jpg",
            "1-2-3.jpg",
            "1-2-3-4-5.jpg",
            "1-2-3-4.png",
            "1-2-3-4",
            "1--3-4.jpg",
            "+1-2-3-4.jpg",
            "1-2-3-4294967296.jpg",
            "1-2-3-٤.jpg",
        ] {
            assert_eq!(Crop::from_address(&blob, name), None, "{name}");
        }
        assert_eq!(Crop::from_address("07", "1-2-3-4.jpg"), None);
    }

    #[test]
    fn a_margin_of_a_third_of_the_x_height_stands_round_a_letter() {
        let crop = around(OF, &frame(), &place(20.0, 30.0, 22.0, 33.0), Mm(2.0)).unwrap();
        // 0.35 × 2.0 mm × 10 px/mm = 7 px on every side.
        let wanted = Crop {
            of: OF,
            x: 193,
            y: 293,
            width: 34,
            height: 44,
        };
        assert_eq!(crop, wanted);
    }

    #[test]
    fn at_the_edge_of_the_sheet_the_crop_ends_with_it() {
        let crop = around(OF, &frame(), &place(147.0, 0.0, 149.0, 2.0), Mm(2.0)).unwrap();
        assert_eq!((crop.x, crop.y), (1463, 0));
        assert_eq!((crop.width, crop.height), (17, 27));
    }

    #[test]
    fn places_that_no_page_has_give_no_crop_and_do_no_harm() {
        let nan = f64::NAN;
        for bad in [
            place(nan, nan, nan, nan),
            place(-50.0, -50.0, -20.0, -20.0),
            place(30.0, 30.0, 20.0, 20.0),
            place(1e300, 1.0, 1e308, 2.0),
        ] {
            assert_eq!(around(OF, &frame(), &bad, Mm(2.0)), None, "{bad:?}");
        }
        for scale in [nan, -10.0, 0.0] {
            let frame = Frame {
                px_per_mm: scale,
                ..frame()
            };
            let place = place(20.0, 30.0, 22.0, 33.0);
            assert_eq!(around(OF, &frame, &place, Mm(2.0)), None);
        }
        let endless = Frame {
            width: Mm(nan),
            px_per_mm: f64::INFINITY,
            ..frame()
        };
        // Whatever it gives, cutting bounds it.
        let _ = around(OF, &endless, &place(20.0, 30.0, 22.0, 33.0), Mm(nan));
    }
}
