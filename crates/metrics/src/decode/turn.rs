//! A picture turned by a quarter.

use image::RgbImage;

/// Pixels of a square that is turned at a time: both its rows and its columns stay near.
const SQUARE: usize = 64;

/// Turns a picture by 90°, clockwise or not. The ordinary way of a phone's photograph, so it is done
/// square by square: pixel by pixel it takes longer than decoding.
pub(super) fn quarter(photo: &RgbImage, clockwise: bool) -> RgbImage {
    let (w, h) = (photo.width() as usize, photo.height() as usize);
    let mut out = RgbImage::new(photo.height(), photo.width());
    let (from, to): (&[[u8; 3]], &mut [[u8; 3]]) = (
        photo.as_raw().as_chunks().0,
        out.as_flat_samples_mut().samples.as_chunks_mut().0,
    );
    // The new picture is `h` pixels wide; its row y is an old column.
    for y0 in (0..w).step_by(SQUARE) {
        for x0 in (0..h).step_by(SQUARE) {
            for y in y0..(y0 + SQUARE).min(w) {
                let row = &mut to[y * h..(y + 1) * h];
                for (x, pixel) in row.iter_mut().enumerate().take(x0 + SQUARE).skip(x0) {
                    *pixel = from[match clockwise {
                        true => (h - 1 - x) * w + y,
                        false => x * w + w - 1 - y,
                    }];
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use image::{Rgb, imageops};
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_quarter_turn_is_that_of_the_image_library(w in 1_u32..90, h in 1_u32..90) {
            let photo = RgbImage::from_fn(w, h, |x, y| Rgb([x as u8, y as u8, (x * y) as u8]));
            prop_assert_eq!(quarter(&photo, true), imageops::rotate90(&photo));
            prop_assert_eq!(quarter(&photo, false), imageops::rotate270(&photo));
        }
    }
}
