//! Photo bytes to upright pixels, within limits that are checked before anything is allocated.

mod bare;
#[cfg(test)]
mod tests;
mod turn;

use std::io::Cursor;

use image::metadata::Orientation;
use image::{
    ColorType, DynamicImage, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits, RgbImage,
};
use thiserror::Error;

use crate::Photo;

pub use bare::bare;

/// Most bytes of a photo file.
const MAX_BYTES: usize = 40 * 1024 * 1024;
/// Most pixels of a photograph.
const MAX_PIXELS: u64 = 60_000_000;
/// Longest side of a photograph, pixels.
const MAX_SIDE: u32 = 20_000;
/// Shortest useful shorter side, pixels: below it a letter of an A5 page has three rows.
const MIN_SIDE: u32 = 400;
/// Most bytes that the decoder may ask for: the largest photograph at 16 bits a channel.
const MAX_ALLOC: u64 = 512 * 1024 * 1024;
/// Most bytes for what a file says before its pixels; colour profiles have a few megabytes at most.
const MAX_BESIDE: u64 = 16 * 1024 * 1024;

/// Why bytes did not become a photograph.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum DecodeError {
    /// The file is too long.
    #[error("the file has {bytes} bytes, more than the {max} that are read")]
    TooManyBytes {
        /// Bytes of the file.
        bytes: usize,
        /// Bytes allowed.
        max: usize,
    },
    /// A HEIC or HEIF picture, which is not read here.
    #[error("this is a HEIC picture; JPEG, PNG and WebP are read")]
    Heic,
    /// Another kind of picture that is not read here.
    #[error("this kind of picture is not read; JPEG, PNG and WebP are")]
    OtherFormat,
    /// Not a picture.
    #[error("this is not a picture")]
    NotAnImage,
    /// Too many pixels.
    #[error("the picture has {w} × {h} pixels, more than are read")]
    TooLarge {
        /// Width, pixels.
        w: u32,
        /// Height, pixels.
        h: u32,
    },
    /// Too few pixels to see a letter.
    #[error("the picture has only {w} × {h} pixels")]
    TooSmall {
        /// Width, pixels.
        w: u32,
        /// Height, pixels.
        h: u32,
    },
    /// The file ends before the picture does.
    #[error("the file ends before the picture does")]
    Truncated,
    /// The file is damaged.
    #[error("the picture is damaged: {0}")]
    Damaged(String),
}

/// Decodes JPEG, PNG or WebP and turns the picture upright by its EXIF orientation.
///
/// Size limits (40 MiB, 60 megapixels, 20,000 pixels a side, at least 400) are read from the
/// header, before memory is asked for.
#[tracing::instrument(level = "trace", name = "decode", skip_all)]
pub fn decode(bytes: &[u8]) -> Result<Photo, DecodeError> {
    if bytes.len() > MAX_BYTES {
        return Err(DecodeError::TooManyBytes {
            bytes: bytes.len(),
            max: MAX_BYTES,
        });
    }
    let rgb = decode_pixels(bytes, format_of(bytes)?)?;
    let (w, h) = rgb.dimensions();
    if w.min(h) < MIN_SIDE {
        return Err(DecodeError::TooSmall { w, h });
    }
    Ok(Photo { rgb })
}

/// Decodes within the upper limits only, for pictures of our own making.
pub(crate) fn decode_pixels(bytes: &[u8], format: ImageFormat) -> Result<RgbImage, DecodeError> {
    let mut decoder = decoder_of(bytes, format)?;
    let orientation = decoder.orientation().map_err(from_image)?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(from_image)?;
    if picture.color() != ColorType::Rgb8 {
        picture = DynamicImage::ImageRgb8(picture.to_rgb8());
    }
    match orientation {
        Orientation::Rotate90 => return Ok(turn::quarter(&picture.into_rgb8(), true)),
        Orientation::Rotate270 => return Ok(turn::quarter(&picture.into_rgb8(), false)),
        other => picture.apply_orientation(other),
    }
    Ok(picture.into_rgb8())
}

/// Has read what stands before the pixels, and holds to the limits.
fn decoder_of(bytes: &[u8], format: ImageFormat) -> Result<impl ImageDecoder, DecodeError> {
    if format == ImageFormat::Jpeg {
        JpegOutline::of(bytes).check()?;
    }
    let mut limits = Limits::no_limits();
    limits.max_image_width = Some(MAX_SIDE);
    limits.max_image_height = Some(MAX_SIDE);
    limits.max_alloc = Some(MAX_ALLOC);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    // The picture's limits are held by hand below, so that the error can name the size. A colour
    // profile is unpacked as soon as it is met: two megabytes of file can become two gigabytes.
    let mut before = Limits::no_limits();
    before.max_alloc = Some(MAX_BESIDE);
    reader.limits(before);
    let mut decoder = reader.into_decoder().map_err(from_image)?;
    let (w, h) = decoder.dimensions();
    within_limits(w, h, decoder.color_type())?;
    decoder.set_limits(limits).map_err(from_image)?;
    Ok(decoder)
}

fn within_limits(w: u32, h: u32, colour: ColorType) -> Result<(), DecodeError> {
    let pixels = u64::from(w) * u64::from(h);
    if w > MAX_SIDE
        || h > MAX_SIDE
        || pixels > MAX_PIXELS
        || pixels * u64::from(colour.bytes_per_pixel()) > MAX_ALLOC
    {
        return Err(DecodeError::TooLarge { w, h });
    }
    Ok(())
}

fn format_of(bytes: &[u8]) -> Result<ImageFormat, DecodeError> {
    if let Some(brand) = iso_media_brand(bytes) {
        // Brands of ISO/IEC 23008-12 (HEIF): still pictures and sequences coded with HEVC, and
        // the two structural brands that phones write.
        const HEIF: [&[u8; 4]; 10] = [
            b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1",
            b"msf1",
        ];
        return Err(if HEIF.contains(&brand) {
            DecodeError::Heic
        } else {
            DecodeError::OtherFormat
        });
    }
    match image::guess_format(bytes) {
        Ok(format @ (ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP)) => Ok(format),
        Ok(_) => Err(DecodeError::OtherFormat),
        Err(_) => Err(DecodeError::NotAnImage),
    }
}

/// The major brand of an ISO base media file (ISO/IEC 14496-12): its first box is `ftyp`.
fn iso_media_brand(bytes: &[u8]) -> Option<&[u8; 4]> {
    (bytes.get(4..8)? == b"ftyp").then(|| bytes.get(8..12)?.try_into().ok())?
}

fn from_image(error: ImageError) -> DecodeError {
    match error {
        ImageError::IoError(io) if io.kind() == std::io::ErrorKind::UnexpectedEof => {
            DecodeError::Truncated
        }
        ImageError::Unsupported(_) => DecodeError::OtherFormat,
        other => {
            let text = other.to_string();
            // The PNG and WebP readers tell of a short file only in words.
            let lower = text.to_lowercase();
            if ["unexpected end", "end of file", "eof", "exhausted"]
                .iter()
                .any(|sign| lower.contains(sign))
            {
                DecodeError::Truncated
            } else {
                DecodeError::Damaged(text)
            }
        }
    }
}

/// What the marker segments of a JPEG (ISO/IEC 10918-1, annex B) say before it is decoded.
struct JpegOutline {
    /// Width and height by the frame header.
    size: Option<(u32, u32)>,
    /// Whether the segments lead to an end-of-image marker. The decoder itself fills a missing
    /// rest with grey and says nothing.
    whole: bool,
}

impl JpegOutline {
    fn of(bytes: &[u8]) -> Self {
        let mut outline = Self {
            size: None,
            whole: false,
        };
        let mut at = 2;
        while let Some(&[0xFF, code]) = bytes.get(at..at + 2) {
            match code {
                0xD9 => {
                    outline.whole = true;
                    break;
                }
                0xFF => at += 1,
                0x01 | 0xD0..=0xD8 => at += 2,
                _ => {
                    let Some(&[high, low]) = bytes.get(at + 2..at + 4) else {
                        break;
                    };
                    if matches!(code, 0xC0..=0xCF) && !matches!(code, 0xC4 | 0xC8 | 0xCC) {
                        outline.size = frame_size(&bytes[at + 4..]);
                    }
                    at += 2 + usize::from(u16::from_be_bytes([high, low]));
                    if code == 0xDA {
                        at = end_of_scan(bytes, at);
                    }
                }
            }
        }
        outline
    }

    /// Too large before truncated: a bare header of an enormous picture is named as such.
    fn check(&self) -> Result<(), DecodeError> {
        if let Some((w, h)) = self.size {
            within_limits(w, h, ColorType::Rgb8)?;
        }
        if self.whole {
            Ok(())
        } else {
            Err(DecodeError::Truncated)
        }
    }
}

/// Width and height of a frame header after its length: precision, lines, samples a line.
fn frame_size(header: &[u8]) -> Option<(u32, u32)> {
    let &[_, y1, y0, x1, x0, ..] = header else {
        return None;
    };
    let number = |high, low| u32::from(u16::from_be_bytes([high, low]));
    Some((number(x1, x0), number(y1, y0)))
}

/// Where the entropy-coded bytes of a scan end: at the next marker that is neither a stuffed
/// byte nor a restart.
fn end_of_scan(bytes: &[u8], from: usize) -> usize {
    let mut at = from;
    while let Some(pair) = bytes.get(at..at + 2) {
        if pair[0] == 0xFF && !matches!(pair[1], 0x00 | 0xD0..=0xD7 | 0xFF) {
            return at;
        }
        at += 1;
    }
    bytes.len()
}
