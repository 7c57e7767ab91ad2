//! Files that phones, scanners and accidents make.

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder, Rgb, RgbImage};

use super::{DecodeError, bare, decode};

/// Wide and high enough, red in its first corner, white elsewhere.
fn marked() -> RgbImage {
    RgbImage::from_fn(480, 416, |x, y| {
        if x < 100 && y < 100 {
            Rgb([220, 20, 20])
        } else {
            Rgb([250, 250, 250])
        }
    })
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut out = Vec::new();
    let (w, h) = picture.dimensions();
    JpegEncoder::new_with_quality(&mut out, 80)
        .encode(picture, w, h, ExtendedColorType::Rgb8)
        .expect("encoded");
    out
}

fn png(picture: &RgbImage) -> Vec<u8> {
    let mut out = Vec::new();
    let (w, h) = picture.dimensions();
    PngEncoder::new(&mut out)
        .write_image(picture, w, h, ExtendedColorType::Rgb8)
        .expect("encoded");
    out
}

/// The same JPEG with an APP1 segment that holds one tag, 0x0112, orientation (Exif 2.3, JEITA
/// CP-3451C, 4.6.4).
fn oriented(bytes: &[u8], orientation: u8) -> Vec<u8> {
    let mut tiff = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
    let mut out = vec![0xFF, 0xD8, 0xFF, 0xE1];
    out.extend(((tiff.len() + 2) as u16).to_be_bytes());
    out.extend(tiff);
    out.extend(&bytes[2..]);
    out
}

#[test]
fn exif_orientation_is_undone() {
    let plain = jpeg(&marked());
    // Where the first corner of the stored picture belongs, by the same standard.
    for (orientation, size, x, y) in [
        (1, (480, 416), 20, 20),
        (3, (480, 416), 460, 396),
        (6, (416, 480), 396, 20),
        (8, (416, 480), 20, 460),
    ] {
        let photo = decode(&oriented(&plain, orientation)).expect("decoded");
        assert_eq!(photo.rgb.dimensions(), size, "orientation {orientation}");
        let Rgb([r, g, _]) = *photo.rgb.get_pixel(x, y);
        assert!(r > 180 && g < 80, "orientation {orientation}: {r} {g}");
        let Rgb([_, g, _]) = *photo.rgb.get_pixel(size.0 / 2, size.1 / 2);
        assert!(g > 230, "orientation {orientation}");
    }
}

/// A PNG that is nothing but the header of a picture of that size.
fn png_header(w: u32, h: u32) -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(w.to_be_bytes());
    chunk.extend(h.to_be_bytes());
    chunk.extend([8, 2, 0, 0, 0]);
    // CRC-32 of ISO 3309, bit by bit.
    let mut crc = u32::MAX;
    for &byte in &chunk {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 };
        }
    }
    let mut out = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    out.extend(chunk);
    out.extend((!crc).to_be_bytes());
    // The start of a data chunk, so that the header is complete.
    out.extend(b"\0\0\0\x04IDAT");
    out
}

/// A JPEG whose frame header says that size, and nothing after it.
fn jpeg_header(w: u16, h: u16) -> Vec<u8> {
    let mut out = vec![0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8];
    out.extend(h.to_be_bytes());
    out.extend(w.to_be_bytes());
    out.extend([3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]);
    out
}

#[test]
fn an_enormous_picture_is_refused_by_its_header() {
    let (w, h) = (30_000, 30_000);
    let refused = Some(DecodeError::TooLarge { w, h });
    assert_eq!(decode(&png_header(w, h)).err(), refused);
    assert_eq!(decode(&jpeg_header(30_000, 30_000)).err(), refused);
    let long = Some(DecodeError::TooLarge { w: 20_001, h: 500 });
    assert_eq!(decode(&png_header(20_001, 500)).err(), long);
}

#[test]
fn too_small_a_picture_is_named_with_its_size() {
    let dot = png(&RgbImage::new(1, 1));
    assert_eq!(
        decode(&dot).err(),
        Some(DecodeError::TooSmall { w: 1, h: 1 })
    );
    let strip = jpeg(&RgbImage::new(900, 399));
    assert_eq!(
        decode(&strip).err(),
        Some(DecodeError::TooSmall { w: 900, h: 399 })
    );
}

#[test]
fn a_file_that_ends_early_is_truncated_wherever_it_ends() {
    for whole in [jpeg(&marked()), png(&marked())] {
        assert!(decode(&whole).is_ok());
        for share in [0.3, 0.6, 0.9, 0.995] {
            let part = &whole[..(whole.len() as f64 * share) as usize];
            assert_eq!(decode(part).err(), Some(DecodeError::Truncated), "{share}");
        }
    }
}

#[test]
fn bytes_after_the_end_of_a_jpeg_do_no_harm() {
    let mut bytes = jpeg(&marked());
    bytes.extend([0; 999]);
    assert!(decode(&bytes).is_ok());
}

#[test]
fn other_files_are_told_apart() {
    for (bytes, error) in [
        (&b""[..], DecodeError::NotAnImage),
        (b"Dear parents, next week", DecodeError::NotAnImage),
        (b"%PDF-1.7\n", DecodeError::NotAnImage),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", DecodeError::Heic),
        (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", DecodeError::Heic),
        (
            b"\0\0\0\x18ftypavif\0\0\0\0mif1avif",
            DecodeError::OtherFormat,
        ),
        (b"GIF89a\x01\0\x01\0\0\0\0", DecodeError::OtherFormat),
    ] {
        assert_eq!(decode(bytes).err(), Some(error), "{bytes:?}");
    }
}

#[test]
fn too_long_a_file_is_refused_unread() {
    let bytes = vec![0xFF; 41 * 1024 * 1024];
    assert!(matches!(
        decode(&bytes),
        Err(DecodeError::TooManyBytes { .. })
    ));
}

/// What must not stay: it stands in each kind of place where a file has room for it.
const SECRET: &[u8] = b"51.4779 N 0.0015 W";

/// The JPEG with a comment, a long Exif segment with a place in it, a colour profile, and something behind
/// its end.
fn talkative(bytes: &[u8], orientation: u8) -> Vec<u8> {
    let mut tiff = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
    tiff.extend(SECRET);
    let mut out = bytes[..2].to_vec();
    for (code, body) in [
        (0xE1, &tiff[..]),
        (
            0xE1,
            b"http://ns.adobe.com/xap/1.0/\0<x>51.4779 N 0.0015 W</x>",
        ),
        (0xE2, b"MPF\0 51.4779 N 0.0015 W"),
        (0xE0, b"JFXX\0\x10 51.4779 N 0.0015 W"),
        (0xEE, b"Adobe\0\x64\0\0\0\0\x01 51.4779 N 0.0015 W"),
        (0xFE, SECRET),
    ] {
        out.extend([0xFF, code]);
        out.extend(((body.len() + 2) as u16).to_be_bytes());
        out.extend(body);
    }
    out.extend(&bytes[2..]);
    out.extend(SECRET);
    out
}

fn has_secret(bytes: &[u8]) -> bool {
    bytes.windows(SECRET.len()).any(|part| part == SECRET)
}

#[test]
fn a_bare_photograph_tells_only_its_pixels_however_it_is_turned() {
    let plain = jpeg(&marked());
    for orientation in 1..=8 {
        let whole = talkative(&plain, orientation);
        let stripped = bare(&whole).expect("a bare copy");
        assert!(has_secret(&whole) && !has_secret(&stripped));
        // 36 bytes say how it is turned, 16 how the colours are coded.
        let more = if orientation == 1 { 16 } else { 52 };
        assert_eq!(stripped.len(), plain.len() + more, "{orientation}");
        let pixels = |bytes: &[u8]| decode(bytes).expect("decoded").rgb;
        assert!(pixels(&stripped) == pixels(&whole), "{orientation}");
        assert_eq!(bare(&stripped).as_ref(), Ok(&stripped), "twice is once");
    }
}

#[test]
fn png_and_webp_are_bared_too() {
    let picture = marked();
    let (w, h) = picture.dimensions();
    let tiff = &talkative(&jpeg(&picture), 6)[12..];
    let tiff = tiff[..26 + SECRET.len()].to_vec();
    let mut files = [Vec::new(), Vec::new()];
    let mut encoder = PngEncoder::new(&mut files[0]);
    encoder.set_exif_metadata(tiff.clone()).expect("set");
    encoder.set_icc_profile(SECRET.to_vec()).expect("set");
    let written = encoder.write_image(&picture, w, h, ExtendedColorType::Rgb8);
    written.expect("encoded");
    let mut encoder = image::codecs::webp::WebPEncoder::new_lossless(&mut files[1]);
    encoder.set_exif_metadata(tiff).expect("set");
    encoder.set_icc_profile(SECRET.to_vec()).expect("set");
    let written = encoder.write_image(&picture, w, h, ExtendedColorType::Rgb8);
    written.expect("encoded");
    for whole in files {
        let stripped = bare(&whole).expect("a bare copy");
        assert!(has_secret(&whole) && !has_secret(&stripped));
        let pixels = |bytes: &[u8]| decode(bytes).expect("decoded").rgb;
        let found = pixels(&stripped);
        assert_eq!(found.dimensions(), (h, w), "it is turned as before");
        assert!(found == pixels(&whole));
        assert_eq!(bare(&stripped).as_ref(), Ok(&stripped), "twice is once");
        assert!(bare(&stripped[..stripped.len() - 40]).is_err());
    }
    let plain = png(&picture);
    assert_eq!(bare(&plain), Ok(plain));
}

#[test]
fn a_webp_that_says_it_is_longer_than_it_is_is_bared_as_far_as_it_goes() {
    let picture = marked();
    let (w, h) = picture.dimensions();
    let mut whole = Vec::new();
    let mut encoder = image::codecs::webp::WebPEncoder::new_lossless(&mut whole);
    encoder.set_icc_profile(SECRET.to_vec()).expect("set");
    let written = encoder.write_image(&picture, w, h, ExtendedColorType::Rgb8);
    written.expect("encoded");
    let stripped = bare(&whole).expect("a bare copy");
    let said = u32::from_le_bytes(whole[4..8].try_into().expect("four bytes"));
    // With nothing behind it, and with less than a chunk's head.
    for behind in [&b""[..], b"ICC"] {
        let mut longer = [&whole, behind].concat();
        longer[4..8].copy_from_slice(&(said + 1_000).to_le_bytes());
        assert!(decode(&longer).expect("decoded").rgb == picture);
        assert_eq!(bare(&longer).as_ref(), Ok(&stripped));
    }
}

#[test]
fn what_is_no_photograph_is_not_bared() {
    assert_eq!(bare(b"no picture"), Err(DecodeError::NotAnImage));
    let whole = jpeg(&marked());
    let cut = bare(&whole[..whole.len() / 2]);
    assert_eq!(cut, Err(DecodeError::Truncated));
}
