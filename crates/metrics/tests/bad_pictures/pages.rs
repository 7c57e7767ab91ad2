//! Pictures that no pupil writes, made to be as hard as can be: each fills a flat sheet.

#![allow(clippy::disallowed_methods)] // A scribble need not be the same to the last bit.

use image::{GrayImage, Luma, RgbImage};
use metrics::{Page, Photo};
use units::{Expectation, Frame, LetterModel, Mm, Paper, Ratio, Ruling, ScaleSource};

/// Whatever its size, a page has this many pixels a millimetre.
const PX_PER_MM: u32 = 10;
/// A4, in pixels.
#[allow(dead_code)] // Each user of these pages wants one of the sizes.
pub const FULL: (u32, u32) = (2100, 2970);
/// Sheet of a photograph of 12 megapixels.
#[allow(dead_code)]
pub const PHOTOGRAPHED: (u32, u32) = (2600, 3677);
/// Enough to be bad on.
#[allow(dead_code)]
pub const SMALL: (u32, u32) = (840, 1188);
const PAPER: u8 = 228;
const INK: u8 = 60;

/// A picture by name.
pub struct Bad {
    /// What it shows.
    pub name: &'static str,
    paint: fn(&mut GrayImage),
}

/// All of them.
pub const ALL: &[Bad] = &[
    bad("black", |p| fill(p, |_, _| true)),
    bad("white", |p| p.fill(255)),
    bad("chequers of 1 px", |p| fill(p, |x, y| (x + y) % 2 == 0)),
    bad("chequers of 2 px", |p| {
        fill(p, |x, y| (x / 2 + y / 2) % 2 == 0)
    }),
    bad("chequers of 8 px", |p| {
        fill(p, |x, y| (x / 8 + y / 8) % 2 == 0)
    }),
    bad("chequers of 16 px", |p| {
        fill(p, |x, y| (x / 16 + y / 16) % 2 == 0)
    }),
    bad("stripes down of 1 px", |p| fill(p, |x, _| x % 2 == 0)),
    bad("stripes across of 1 px", |p| fill(p, |_, y| y % 2 == 0)),
    bad("a million specks", |p| specks(p, 6)),
    bad("a hundred thousand dots", |p| {
        fill(p, |x, y| x % 8 < 4 && y % 8 < 4)
    }),
    bad("dots in one band", |p| {
        fill(p, |x, y| (400..440).contains(&y) && x % 6 < 3 && y % 6 < 3);
    }),
    bad("rings in rows, as close as print", |p| {
        fill(p, |x, y| {
            let (dx, dy) = ((x % 18).abs_diff(9), (y % 26).abs_diff(13));
            (30..81).contains(&(dx * dx + dy * dy)) && (x / 18) % 7 > 0
        });
    }),
    bad("short strokes in rows", |p| {
        fill(p, |x, y| x % 9 < 3 && y % 80 < 24)
    }),
    bad("one giant piece", |p| noise(p, 0.62)),
    bad("noise just below one giant piece", |p| noise(p, 0.40)),
    bad("a spiral", spiral),
    bad("a comb", |p| fill(p, |x, y| y < 40 || x % 4 < 2)),
    bad("a lattice", |p| fill(p, |x, y| x % 12 < 3 || y % 12 < 3)),
    bad("only rules", |p| faint(p, |_, y| y % 80 < 3)),
    bad("rules at every millimetre", |p| {
        faint(p, |x, y| x % 10 < 2 || y % 10 < 2)
    }),
    bad("rules at no pitch", |p| {
        faint(p, |_, y| (y * y / 700) % 37 < 3)
    }),
    bad("stripes at nearly the pitch", |p| {
        faint(p, |x, y| (y * 100 + x) % 7_700 < 300)
    }),
    bad("chevrons within chevrons", |p| {
        let middle = p.width() / 2;
        fill(p, |x, y| (y + x.abs_diff(middle)) % 6 < 2);
    }),
    bad("scribble", scribble),
    bad("tiles", |p| fill(p, |x, y| x % 240 < 9 || y % 240 < 9)),
    bad("a window blind", |p| fill(p, |x, y| (y + x / 60) % 40 < 18)),
    bad("sheets upon sheets", sheets),
    bad("grey noise", |p| {
        let mut chance = Chance(7);
        p.iter_mut().for_each(|v| *v = chance.next() as u8);
    }),
];

const fn bad(name: &'static str, paint: fn(&mut GrayImage)) -> Bad {
    Bad { name, paint }
}

impl Bad {
    /// As a flat sheet.
    pub fn page(&self, size: (u32, u32)) -> Page {
        let mut grey = GrayImage::from_pixel(size.0, size.1, Luma([PAPER]));
        (self.paint)(&mut grey);
        page(grey)
    }

    /// All over the photograph, with no desk to be seen.
    pub fn close(&self, size: (u32, u32)) -> Photo {
        Photo {
            rgb: self.page(size).rgb,
        }
    }

    /// The sheet on a dark desk, seen from straight above.
    pub fn photo(&self, size: (u32, u32)) -> Photo {
        let sheet = self.page(size);
        let border = 160;
        let (w, h) = sheet.rgb.dimensions();
        let mut rgb = RgbImage::from_fn(w + 2 * border, h + 2 * border, |x, y| {
            let grain = (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)) >> 28;
            image::Rgb([70 + grain as u8, 52 + grain as u8, 40])
        });
        image::imageops::replace(&mut rgb, &sheet.rgb, i64::from(border), i64::from(border));
        Photo { rgb }
    }
}

/// A flat grey sheet, ten pixels a millimetre.
pub fn page(grey: GrayImage) -> Page {
    let mm = |px: u32| Mm(f64::from(px) / f64::from(PX_PER_MM));
    let rgb = RgbImage::from_fn(grey.width(), grey.height(), |x, y| {
        image::Rgb([grey.get_pixel(x, y)[0]; 3])
    });
    Page {
        frame: Frame {
            width: mm(grey.width()),
            height: mm(grey.height()),
            px_per_mm: f64::from(PX_PER_MM),
            to_photo: None,
            scale_source: ScaleSource::Paper,
            scale_se: Ratio(0.005),
        },
        rgb,
        grey,
        photo_size: None,
    }
}

/// What an adult would say of the page: eight millimetres, unjoined, this text.
pub fn expectation(text: Option<Vec<String>>) -> Expectation {
    Expectation {
        paper: Paper::A4,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
        model: LetterModel::unjoined(),
        text,
        minutes: None,
        amendments: Vec::new(),
    }
}

fn fill(picture: &mut GrayImage, ink: impl Fn(u32, u32) -> bool) {
    for (x, y, pixel) in picture.enumerate_pixels_mut() {
        if ink(x, y) {
            *pixel = Luma([INK]);
        }
    }
}

fn faint(picture: &mut GrayImage, print: impl Fn(u32, u32) -> bool) {
    for (x, y, pixel) in picture.enumerate_pixels_mut() {
        if print(x, y) {
            *pixel = Luma([180]);
        }
    }
}

/// SplitMix64 (Steele, Lea & Flood 2014).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let word = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ (word >> 31)
    }

    fn below(&mut self, end: u32) -> u32 {
        (self.next() % u64::from(end)) as u32
    }
}

/// Single pixels, one for so many: on a full page a million.
fn specks(picture: &mut GrayImage, one_in: u32) {
    let mut chance = Chance(3);
    let (w, h) = picture.dimensions();
    for _ in 0..w * h / one_in {
        picture.put_pixel(chance.below(w), chance.below(h), Luma([INK]));
    }
}

/// Turned rectangles of many greys, one upon the other: edges of paper everywhere.
fn sheets(picture: &mut GrayImage) {
    let mut chance = Chance(13);
    let (w, h) = picture.dimensions();
    for _ in 0..90 {
        let (cx, cy) = (f64::from(chance.below(w)), f64::from(chance.below(h)));
        let long = f64::from(h) * (0.1 + f64::from(chance.below(100)) / 300.0);
        let (sin, cos) = (f64::from(chance.below(1000)) / 500.0 - 1.0).sin_cos();
        let grey = 120 + chance.below(130) as u8;
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let (dx, dy) = (f64::from(x) - cx, f64::from(y) - cy);
            let (u, v) = (dx * cos + dy * sin, dy * cos - dx * sin);
            if u.abs() < long / 2.0 / 1.414 && v.abs() < long / 2.0 {
                *pixel = Luma([grey]);
            }
        }
    }
}

/// Squares of three pixels, inked with a probability: with many, one piece spans the sheet.
fn noise(picture: &mut GrayImage, share: f64) {
    let mut chance = Chance(11);
    let (w, h) = (picture.width().div_ceil(3), picture.height().div_ceil(3));
    let limit = (share * 1e6) as u32;
    let inked: Vec<bool> = (0..w * h)
        .map(|_| chance.below(1_000_000) < limit)
        .collect();
    fill(picture, |x, y| inked[(y / 3 * w + x / 3) as usize]);
}

fn spiral(picture: &mut GrayImage) {
    let (cx, cy) = (
        f64::from(picture.width()) / 2.0,
        f64::from(picture.height()) / 2.0,
    );
    fill(picture, |x, y| {
        let (dx, dy) = (f64::from(x) - cx, f64::from(y) - cy);
        let turn = dy.atan2(dx) / core::f64::consts::TAU;
        (dx.hypot(dy) / 14.0 - turn).rem_euclid(1.0) < 0.35
    });
}

fn scribble(picture: &mut GrayImage) {
    let mut chance = Chance(5);
    let (w, h) = picture.dimensions();
    let (mut x, mut y) = (f64::from(w) / 2.0, f64::from(h) / 2.0);
    let mut heading = 0.0f64;
    for _ in 0..w * h / 9 {
        heading += (chance.below(2000) as f64 - 1000.0) / 4000.0;
        x = (x + 1.5 * heading.cos()).rem_euclid(f64::from(w - 5));
        y = (y + 1.5 * heading.sin()).rem_euclid(f64::from(h - 5));
        for dx in 0..4 {
            for dy in 0..4 {
                picture.put_pixel(x as u32 + dx, y as u32 + dy, Luma([INK]));
            }
        }
    }
}
