//! The ways by which bytes from anywhere come in, for a fuzzer and for the replay of what it found.
//! None may panic, and whatever is measured is a number.

use std::io::Cursor;

use image::{DynamicImage, GrayImage, ImageReader};
use metrics::{Page, Photo};
use units::{
    Amendment, BoxMm, CorrectionKind, Expectation, FaultKind, Fitness, Frame, JoinVerdict,
    LetterModel, Mm, Outcome, Paper, Ratio, Ruling, ScaleSource,
};

use crate::drawn;

/// Pictures with more pixels take too long to be tried by the thousand.
const MOST_PIXELS: u64 = 500_000;

/// The file of a photograph: decoded, its sheet found, checked and read. The last byte says what is
/// expected of the page.
pub fn photo(bytes: &[u8]) {
    let expect = expectation(bytes.last().copied().unwrap_or(0));
    if !is_small(bytes) {
        return;
    }
    let Ok(photo) = metrics::decode(bytes) else {
        return;
    };
    if let Ok(page) = metrics::find_page(&photo, &expect) {
        read(&page, &expect);
    }
}

/// A file of any kind, only decoded, and so is its bare copy.
pub fn file(bytes: &[u8]) {
    if is_small(bytes) {
        decoded(bytes);
    }
}

/// The pixels of a file and of what is left of it without metadata: the same, if both can be had.
fn decoded(bytes: &[u8]) {
    let photo = metrics::decode(bytes);
    if let (Ok(photo), Ok(bare)) = (photo, metrics::bare(bytes)) {
        let again = metrics::decode(&bare).expect("a bare copy is a photograph");
        assert!(again.rgb == photo.rgb, "other pixels");
    }
}

/// A kept picture of a page, after two bytes for what is expected and for its scale.
pub fn kept(bytes: &[u8]) {
    let [expected, scale, picture @ ..] = bytes else {
        return;
    };
    let expect = expectation(*expected);
    let px_per_mm = 0.5 + f64::from(*scale) / 16.0;
    if !is_small(picture) {
        return;
    }
    let (width, height) = expect.paper.size();
    let frame = Frame {
        width,
        height,
        px_per_mm,
        to_photo: None,
        scale_source: ScaleSource::Paper,
        scale_se: Ratio(0.004),
    };
    if let Ok(mut page) = metrics::page_from_picture(picture, &frame) {
        page.frame.width = Mm(f64::from(page.grey.width()) / px_per_mm);
        page.frame.height = Mm(f64::from(page.grey.height()) / px_per_mm);
        read(&page, &expect);
    }
}

/// A page drawn by the bytes after the first two, which say what is expected of it and whether it
/// is photographed first.
pub fn drawn(bytes: &[u8]) {
    let [expected, taken, rest @ ..] = bytes else {
        return;
    };
    let expect = expectation(*expected);
    let page = drawn::page(rest);
    if *taken < 240 {
        return read(&flat(page.grey, page.px_per_mm), &expect);
    }
    let photo = Photo {
        rgb: page.on_table(),
    };
    if let Ok(page) = metrics::find_page(&photo, &expect) {
        let checks = metrics::fitness(&page).checks;
        assert!(checks.iter().all(|check| check.figure.is_finite()));
    }
}

/// What is told of a page, in numbers of any kind, as another device may hand them over: a byte, the
/// ruling's two lengths, the scale of the kept picture and its error, and the text, a line each.
pub fn told(bytes: &[u8]) {
    let Some((head, text)) = bytes.split_first_chunk::<33>() else {
        return;
    };
    let number = |at: usize| {
        let bytes = head[at..].first_chunk().expect("a byte and four numbers");
        f64::from_le_bytes(*bytes)
    };
    let (first, second) = (Mm(number(1)), Mm(number(9)));
    let mut expect = expectation(head[0]);
    expect.ruling = match expect.ruling {
        Ruling::Plain => Ruling::Plain,
        Ruling::Lines { .. } => Ruling::Lines { pitch: first },
        Ruling::Squares { .. } => Ruling::Squares {
            side: first,
            every: second.0 as u8,
        },
        Ruling::FourLine { .. } => Ruling::FourLine {
            pitch: first,
            inner: second,
        },
    };
    let text = String::from_utf8_lossy(text);
    expect.text = (!text.is_empty()).then(|| text.lines().map(str::to_owned).collect());
    let page = drawn::page(&include_bytes!("drawn/words")[2..]);
    let mut flat = flat(page.grey, page.px_per_mm);
    let kept = metrics::encode_page(&flat);
    (flat.frame.px_per_mm, flat.frame.scale_se) = (number(17), Ratio(number(25)));
    if let Ok(page) = metrics::page_from_picture(&kept, &flat.frame) {
        read(&page, &expect);
    }
}

/// What a camera writes beside a picture (Exif 2.32), put into a photograph.
pub fn exif(bytes: &[u8]) {
    const PHOTOGRAPH: &[u8] = include_bytes!("photo/a5-lines8-uneven.jpg");
    let segment = [b"Exif\0\0", &bytes[..bytes.len().min(60_000)]].concat();
    let length = (segment.len() as u16 + 2).to_be_bytes();
    let marked = [&[0xFF, 0xD8, 0xFF, 0xE1], &length[..], &segment].concat();
    decoded(&[&marked, &PHOTOGRAPH[2..]].concat());
}

/// One of many expectations.
fn expectation(which: u8) -> Expectation {
    let paper = match (which >> 6, which & 1) {
        (3, _) => Paper::UsLetter,
        (_, 0) => Paper::A5,
        _ => Paper::A4,
    };
    let ruling = match which >> 1 & 3 {
        0 => Ruling::Lines { pitch: Mm(8.0) },
        1 => Ruling::Squares {
            side: Mm(5.0),
            every: 2,
        },
        2 => Ruling::FourLine {
            pitch: Mm(18.0),
            inner: Mm(4.0),
        },
        _ => Ruling::Plain,
    };
    let joined = which >> 3 & 1 == 1;
    let lines = |text: &[&str]| Some(text.iter().map(|line| (*line).to_owned()).collect());
    Expectation {
        paper,
        ruling,
        model: match (joined, which >> 6) {
            (false, _) => LetterModel::unjoined(),
            (true, 1) => LetterModel::joined(),
            (true, _) => LetterModel::part_joined(),
        },
        text: match which >> 4 & 3 {
            0 => None,
            1 => lines(&["the hen and the dog", "ran down the hill", "to the pond"]),
            2 => lines(&["Mum said “go on, Jo!”"]),
            _ => lines(&["", " ", "é ß 你好 12 %"]),
        },
        minutes: (which >> 6 == 2).then_some(5),
        amendments: match which >> 6 {
            1 => amendments(),
            _ => Vec::new(),
        },
    }
}

/// Something put right of every kind, on the sheet, off it and without size.
fn amendments() -> Vec<Amendment> {
    let place = |x: f64, y: f64, size: f64| BoxMm {
        x0: Mm(x),
        y0: Mm(y),
        x1: Mm(x + size),
        y1: Mm(y + size),
    };
    let places = [
        place(20.0, 20.0, 3.0),
        place(-50.0, 900.0, 1e3),
        place(8.0, 8.0, 0.0),
    ];
    let of = |at: BoxMm| {
        let letter = 'h';
        [
            Amendment::Letter {
                at,
                letter,
                bounds: Some(place(18.0, 18.0, 6.0)),
            },
            Amendment::Letter {
                at,
                letter: 'e',
                bounds: None,
            },
            Amendment::Fault {
                at,
                letter,
                fault: FaultKind::NotTall,
                there: true,
            },
            Amendment::Reads {
                at,
                letter,
                as_meant: false,
            },
            Amendment::Join {
                at,
                letter,
                verdict: JoinVerdict::Missing,
            },
            Amendment::Correction {
                at,
                kind: Some(CorrectionKind::Bracketed),
            },
            Amendment::Correction { at, kind: None },
            Amendment::NotWriting { at },
            Amendment::Line { at },
        ]
    };
    places.into_iter().flat_map(of).collect()
}

fn is_small(bytes: &[u8]) -> bool {
    let reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format();
    let size = reader.ok().and_then(|reader| reader.into_dimensions().ok());
    size.is_none_or(|(width, height)| u64::from(width) * u64::from(height) <= MOST_PIXELS)
}

/// A flat sheet in grey.
fn flat(grey: GrayImage, px_per_mm: f64) -> Page {
    Page {
        frame: Frame {
            width: Mm(f64::from(grey.width()) / px_per_mm),
            height: Mm(f64::from(grey.height()) / px_per_mm),
            px_per_mm,
            to_photo: None,
            scale_source: ScaleSource::Paper,
            scale_se: Ratio(0.004),
        },
        rgb: DynamicImage::ImageLuma8(grey.clone()).into_rgb8(),
        grey,
        photo_size: None,
    }
}

fn read(page: &Page, expect: &Expectation) {
    let fitness: Fitness = metrics::fitness(page);
    assert!(fitness.checks.iter().all(|check| check.figure.is_finite()));
    let reading = metrics::read_page(page, expect, fitness);
    for measure in &reading.measures {
        if let Outcome::Measured { value, se, .. } = measure.outcome {
            assert!(
                value.is_finite() && se.is_finite() && se >= 0.0,
                "{measure:?}"
            );
        }
    }
}
