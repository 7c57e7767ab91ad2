//! Small invented pages: a few strokes on a sheet, with a picture that no other page has.

use std::io::Write;

use app::units::{
    BlobId, Day, DeviceId, Expectation, Fitness, Frame, LetterModel, Mm, Moment, PageId,
    PageRecord, Paper, Ratio, Reading, ReadingId, ReadingRecord, Ruling, ScaleSource, TaskKind,
};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, Rgb, RgbImage};

use crate::dice::Dice;

/// Most bytes in one comment of a JPEG, its length counted (ITU-T T.81, B.2.4.5).
const LONGEST_COMMENT: usize = 65_535;

/// A page with its picture and its whole reading; `size` is about how many bytes the picture has.
pub fn page(number: u32, day: Day, size: usize, dice: &mut Dice) -> (PageRecord, Vec<Vec<u8>>) {
    let (drawn, mut reading) = draw(dice);
    let picture = with_comments(&drawn, size, dice);
    reading.engine = format!("invented {number}");
    let detail = packed(&reading);
    let mut id = [0; 16];
    dice.fill(&mut id);
    let name = |bytes: &[u8]| BlobId(*blake3::hash(bytes).as_bytes());
    let record = ReadingRecord {
        id: ReadingId(id),
        engine: reading.engine,
        made_at: Moment(0),
        measures: Vec::new(),
        detail: name(&detail),
    };
    let page = PageRecord {
        id: PageId([0; 16]),
        task: None,
        written_on: day,
        kind: TaskKind::Copied,
        text: None,
        minutes: None,
        paper: Paper::A5,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
        model: LetterModel::unjoined(),
        picture: name(&picture),
        added_by: DeviceId([0; 32]),
        readings: vec![record],
        looked_at: None,
    };
    (page, vec![picture, detail])
}

/// Strokes of different lengths, so that no two pages read the same.
fn draw(dice: &mut Dice) -> (Vec<u8>, Reading) {
    let mut reach = [0; 64];
    dice.fill(&mut reach);
    let frame = Frame {
        width: Mm(30.0),
        height: Mm(24.0),
        px_per_mm: 2.0,
        to_photo: None,
        scale_source: ScaleSource::Paper,
        scale_se: Ratio(0.004),
    };
    let stroke = |x: u32, y: u32| {
        let (row, above) = (y / 16, y % 16);
        let shorter = reach[(row * 8 + x / 7) as usize] % 6;
        x % 7 == 3 && (8 + u32::from(shorter)..16).contains(&above) && (6..54).contains(&x)
    };
    let drawn = RgbImage::from_fn(60, 48, |x, y| match stroke(x, y) {
        true => Rgb([30, 30, 60]),
        false => Rgb([240, 240, 236]),
    });
    let mut jpeg = Vec::new();
    let (width, height) = drawn.dimensions();
    JpegEncoder::new_with_quality(&mut jpeg, 90)
        .encode(drawn.as_raw(), width, height, ExtendedColorType::Rgb8)
        .expect("a small picture");
    let page = metrics::page_from_picture(&jpeg, &frame).expect("its own picture");
    let expect = Expectation {
        paper: Paper::A5,
        ruling: Ruling::Plain,
        model: LetterModel::unjoined(),
        text: None,
        minutes: None,
        amendments: Vec::new(),
    };
    let reading = metrics::read_page(&page, &expect, Fitness { checks: Vec::new() });
    (jpeg, reading)
}

/// Comments behind the picture's first marker, which nobody looks at.
fn with_comments(jpeg: &[u8], size: usize, dice: &mut Dice) -> Vec<u8> {
    let (begin, rest) = jpeg.split_at(2);
    let mut picture = begin.to_vec();
    let mut left = size.max(24);
    while left > 0 {
        let mut comment = vec![0; left.min(LONGEST_COMMENT - 2)];
        dice.fill(&mut comment);
        left -= comment.len();
        picture.extend([0xFF, 0xFE]);
        picture.extend((comment.len() as u16 + 2).to_be_bytes());
        picture.extend(comment);
    }
    picture.extend(rest);
    picture
}

/// As the program packs a whole reading: JSON, deflated.
fn packed(reading: &Reading) -> Vec<u8> {
    let json = serde_json::to_vec(reading).expect("a reading is plain data");
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::default());
    packed.write_all(&json).expect("memory");
    packed.finish().expect("memory")
}
