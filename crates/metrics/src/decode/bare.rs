//! A photograph's file without what a camera writes beside the pixels: place, time, device, small pictures,
//! and whatever hangs on behind the end.
//!
//! The pixels' own bytes stay as they are, so that what is found in a photograph is found in its bare copy
//! too. Beside them stays only what they cannot be read without, and how the picture is turned.

use image::metadata::Orientation;
use image::{ImageDecoder, ImageFormat};

use super::{DecodeError, decoder_of, end_of_scan, format_of, from_image};

/// The file without metadata: it decodes to the same pixels.
///
/// # Errors
/// The bytes are no photograph that [`super::decode`] reads, as far as that is seen without decoding them.
pub fn bare(bytes: &[u8]) -> Result<Vec<u8>, DecodeError> {
    let format = format_of(bytes)?;
    let mut decoder = decoder_of(bytes, format)?;
    let turned = match decoder.orientation().map_err(from_image)? {
        Orientation::NoTransforms => None,
        other => Some(exif(other)),
    };
    let turned = turned.as_ref().map(<[u8; 26]>::as_slice);
    let made = match format {
        ImageFormat::Png => png(bytes, turned),
        ImageFormat::WebP => webp(bytes, turned),
        _ => jpeg(bytes, turned),
    };
    made.ok_or(DecodeError::Truncated)
}

/// How a picture is turned, and nothing else: one directory with one tag, 0x0112 (Exif 2.3, JEITA CP-3451C,
/// 4.6.4).
fn exif(turned: Orientation) -> [u8; 26] {
    let mut tiff = *b"MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\0\0\0\0\0\0\0";
    tiff[19] = turned.to_exif();
    tiff
}

/// Marker segments as in ISO/IEC 10918-1, annex B, up to the end of the first picture.
fn jpeg(bytes: &[u8], turned: Option<&[u8]>) -> Option<Vec<u8>> {
    let mut bare = bytes.get(..2)?.to_vec();
    if let Some(tiff) = turned {
        bare.extend([0xFF, 0xE1, 0, 34]);
        bare.extend(b"Exif\0\0");
        bare.extend(tiff);
    }
    let mut at = 2;
    loop {
        let &[0xFF, code] = bytes.get(at..at + 2)? else {
            return None;
        };
        match code {
            0xD9 => {
                bare.extend([0xFF, code]);
                return Some(bare);
            }
            0xFF => at += 1,
            0x01 | 0xD0..=0xD8 => {
                bare.extend([0xFF, code]);
                at += 2;
            }
            _ => {
                let length = bytes.get(at + 2..at + 4)?;
                let length = u16::from_be_bytes(length.try_into().ok()?);
                let segment = bytes.get(at..at + 2 + usize::from(length.max(2)))?;
                at += segment.len();
                if let Some(part) = needed(code, segment) {
                    bare.extend([0xFF, code]);
                    bare.extend((part.len() as u16 + 2).to_be_bytes());
                    bare.extend(part);
                }
                if code == 0xDA {
                    let end = end_of_scan(bytes, at);
                    bare.extend(&bytes[at..end]);
                    at = end;
                }
            }
        }
    }
}

/// What of a segment the pixels cannot be read without. Of those for applications two say how the colours are
/// coded: that of JFIF, which is left out where it holds a small picture, and the first bytes of Adobe's.
fn needed(code: u8, segment: &[u8]) -> Option<&[u8]> {
    let body = segment.get(4..)?;
    match code {
        0xE0 => (body.starts_with(b"JFIF\0") && body.len() == 14).then_some(body),
        0xEE => body.get(..12).filter(|body| body.starts_with(b"Adobe")),
        0xE1..=0xEF | 0xFE => None,
        _ => Some(body),
    }
}

/// Chunks as in the PNG specification (W3C, third edition, 5.3): the critical ones, and transparency.
fn png(bytes: &[u8], turned: Option<&[u8]>) -> Option<Vec<u8>> {
    let mut bare = bytes.get(..8)?.to_vec();
    let mut at = 8;
    loop {
        let length = u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?);
        let chunk = bytes.get(
            at..at
                .checked_add(usize::try_from(length).ok()?)?
                .checked_add(12)?,
        )?;
        at += chunk.len();
        let name = &chunk[4..8];
        if name[0].is_ascii_uppercase() || name == b"tRNS" {
            bare.extend(chunk);
        }
        match name {
            b"IHDR" => {
                if let Some(tiff) = turned {
                    let named = [b"eXIf", tiff].concat();
                    bare.extend((tiff.len() as u32).to_be_bytes());
                    bare.extend(&named);
                    bare.extend(crc(&named).to_be_bytes());
                }
            }
            b"IEND" => return Some(bare),
            _ => {}
        }
    }
}

/// CRC-32 as in the PNG specification, annex D, bit by bit: it is told of 30 bytes only.
fn crc(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 };
        }
    }
    !crc
}

/// Chunks as in RFC 9649, 2.3 to 2.7: those of the pixels, with what is beside them taken off the flags.
fn webp(bytes: &[u8], turned: Option<&[u8]>) -> Option<Vec<u8>> {
    const PROFILE: u8 = 0x20;
    const EXIF: u8 = 0x08;
    const XMP: u8 = 0x04;
    let length = u32::from_le_bytes(bytes.get(4..8)?.try_into().ok()?);
    let end = usize::try_from(length).ok()?.checked_add(8)?;
    // Some files say that they are longer than they are, and are read all the same.
    let bytes = &bytes[..end.min(bytes.len())];
    let mut bare = bytes.get(..12)?.to_vec();
    let mut at = 12;
    while let Some(length) = bytes.get(at + 4..at + 8) {
        let length = u32::from_le_bytes(length.try_into().ok()?);
        let length = usize::try_from(length).ok()?.checked_add(8)?;
        let chunk = bytes.get(at..at.checked_add(length)?)?;
        // Each is as long as an even number.
        at += length + length % 2;
        if !matches!(
            &chunk[..4],
            b"VP8X" | b"VP8 " | b"VP8L" | b"ALPH" | b"ANIM" | b"ANMF"
        ) {
            continue;
        }
        let from = bare.len();
        bare.extend(chunk);
        bare.resize(bare.len() + length % 2, 0);
        if chunk.starts_with(b"VP8X") {
            let flags = bare.get_mut(from + 8)?;
            *flags &= !(PROFILE | EXIF | XMP);
            *flags |= if turned.is_some() { EXIF } else { 0 };
        }
    }
    if let Some(tiff) = turned {
        bare.extend(b"EXIF");
        bare.extend((tiff.len() as u32).to_le_bytes());
        bare.extend(tiff);
    }
    let length = u32::try_from(bare.len() - 8).ok()?;
    bare[4..8].copy_from_slice(&length.to_le_bytes());
    Some(bare)
}
