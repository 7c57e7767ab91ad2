//! What a phone writes beside a picture: which way up it was held, and where.

use image::RgbImage;

/// The few fields that the demo's phone writes.
#[derive(Debug, Clone, PartialEq)]
pub struct Exif {
    /// How the stored picture is turned: 1 (upright), 3, 6 or 8, as in EXIF 2.3, tag 0x0112.
    pub orientation: u16,
    /// Whether a position is written; it lies in the open Atlantic, 48° 30' N 20° 15' W.
    pub position: bool,
}

/// The stored picture that this orientation turns upright again.
pub fn as_stored(upright: RgbImage, orientation: u16) -> RgbImage {
    match orientation {
        3 => image::imageops::rotate180(&upright),
        6 => image::imageops::rotate270(&upright),
        8 => image::imageops::rotate90(&upright),
        _ => upright,
    }
}

/// Puts an APP1 segment right after the start of a JPEG.
pub fn insert(jpeg: &[u8], exif: &Exif) -> Vec<u8> {
    let body = [b"Exif\0\0".as_slice(), &tiff(exif)].concat();
    let length = (body.len() + 2) as u16;
    [
        &jpeg[..2],
        &[0xff, 0xe1],
        &length.to_be_bytes(),
        &body,
        &jpeg[2..],
    ]
    .concat()
}

/// One field of a directory: tag, type, count, and its value or where it lies.
struct Field(u16, u16, u32, [u8; 4]);

const ASCII: u16 = 2;
const SHORT: u16 = 3;
const LONG: u16 = 4;
const RATIONAL: u16 = 5;

/// A big-endian TIFF block: one directory, and one for the position.
fn tiff(exif: &Exif) -> Vec<u8> {
    const MAKER: &[u8; 8] = b"Demo\0\0\0\0";
    let count: u32 = if exif.position { 3 } else { 2 };
    let after = 8 + 2 + count * 12 + 4;
    let gps = after + MAKER.len() as u32;
    let [high, low] = exif.orientation.to_be_bytes();
    let mut fields = vec![
        Field(0x010f, ASCII, 5, after.to_be_bytes()),
        Field(0x0112, SHORT, 1, [high, low, 0, 0]),
    ];
    if exif.position {
        fields.push(Field(0x8825, LONG, 1, gps.to_be_bytes()));
    }
    let mut block = b"MM\0\x2a\0\0\0\x08".to_vec();
    directory(&mut block, &fields);
    block.extend(MAKER);
    if exif.position {
        let values = gps + 2 + 4 * 12 + 4;
        directory(
            &mut block,
            &[
                Field(1, ASCII, 2, *b"N\0\0\0"),
                Field(2, RATIONAL, 3, values.to_be_bytes()),
                Field(3, ASCII, 2, *b"W\0\0\0"),
                Field(4, RATIONAL, 3, (values + 24).to_be_bytes()),
            ],
        );
        for part in [48_u32, 30, 0, 20, 15, 0] {
            block.extend(part.to_be_bytes());
            block.extend(1_u32.to_be_bytes());
        }
    }
    block
}

fn directory(block: &mut Vec<u8>, fields: &[Field]) {
    block.extend((fields.len() as u16).to_be_bytes());
    for Field(tag, kind, count, value) in fields {
        block.extend(tag.to_be_bytes());
        block.extend(kind.to_be_bytes());
        block.extend(count.to_be_bytes());
        block.extend(value);
    }
    block.extend([0; 4]);
}
