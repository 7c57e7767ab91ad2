//! Sheets drawn here, found again. The drawings are exact: a pixel's share of paper follows from
//! its distance to the sheet's sides.

use image::{Rgb, RgbImage};
use proptest::prelude::*;
use units::{Expectation, LetterModel, Paper, Ruling, ScaleSource};

use super::quads::Quad;
use super::{Homography, PageError, find_page};
use crate::Photo;

const SIZE: (u32, u32) = (900, 1200);
/// Corners of an A4 sheet as a camera over it sees them: turned by `turn` about the line of sight,
/// then leaning by `lean` to the right and `nod` away (sines), from `far` sheet heights, on a film
/// as long as 0.8 long sides.
fn seen_by_camera(size: (u32, u32), turn: f64, lean: f64, nod: f64, far: f64) -> Quad {
    let (w, h) = (f64::from(size.0), f64::from(size.1));
    let cosine = |sine: f64| (1.0 - sine * sine).sqrt();
    [
        (-105.0, -148.5),
        (105.0, -148.5),
        (105.0, 148.5),
        (-105.0, 148.5),
    ]
    .map(|(x, y)| {
        let (x, y) = (x * cosine(turn) - y * turn, x * turn + y * cosine(turn));
        let (x, z) = (x * cosine(lean), x * lean);
        let (y, z) = (y * cosine(nod) - z * nod, y * nod + z * cosine(nod));
        let scale = 0.8 * h.max(w) / (far * 297.0 + z);
        (0.5 * (w - 1.0) + x * scale, 0.5 * (h - 1.0) + y * scale)
    })
}

/// A sheet seen a little askew.
fn corners() -> Quad {
    seen_by_camera(SIZE, 0.03, -0.05, 0.08, 1.0)
}

fn expect(paper: Paper) -> Expectation {
    Expectation {
        paper,
        ruling: Ruling::Plain,
        model: LetterModel::unjoined(),
        text: None,
        minutes: None,
        amendments: Vec::new(),
    }
}

/// A grain from -1 to 1 that is the same on every run.
pub(crate) fn grain(x: u32, y: u32) -> f64 {
    let mixed = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77);
    let mixed = (mixed ^ (mixed >> 15)).wrapping_mul(0x2C1B_3C6D);
    f64::from(mixed >> 20) / 2048.0 - 1.0
}

fn desk(x: u32, y: u32) -> [f64; 3] {
    let plank = 9.0 * (f64::from(y) / 23.0 + (f64::from(x) / 310.0).sin()).sin();
    let level = plank + 5.0 * grain(x, y);
    [150.0 + level, 112.0 + level, 74.0 + level]
}

fn desk_photo((w, h): (u32, u32)) -> Photo {
    let rgb = RgbImage::from_fn(w, h, |x, y| Rgb(desk(x, y).map(|v| v.round() as u8)));
    Photo { rgb }
}

/// Whether ink lies at a place on an A4 sheet: words on lines 9 mm apart, begun at one margin,
/// ended where they may, the bodies of letters 3 mm and every third letter taller.
fn is_ink(x: f64, y: f64) -> bool {
    let (left, top, pitch) = (25.0, 30.0, 9.0);
    let line = ((y - top) / pitch).floor();
    if !(0.0..16.0).contains(&line) {
        return false;
    }
    let below = y - top - line * pitch;
    let end = 160.0 - 13.0 * (line * 7.0 % 4.0);
    if !(left..end).contains(&x) {
        return false;
    }
    let letter = ((x - left) / 2.4).floor();
    let tall = letter % 3.0 == 0.0;
    let stroke = (x - left) % 2.4 < 0.6 && letter % 7.0 != 5.0;
    let high = if tall { 1.0 } else { 4.0 };
    stroke && (high..7.0).contains(&below)
}

/// A sheet with writing on a desk; light falls off to the right.
fn sheet_photo(size: (u32, u32), corners: &Quad, written: bool) -> Photo {
    let sheet = [(0.0, 0.0), (210.0, 0.0), (210.0, 297.0), (0.0, 297.0)];
    let to_sheet = Homography::from_points(*corners, sheet).expect("four corners");
    let rgb = RgbImage::from_fn(size.0, size.1, |x, y| {
        let (px, py) = (f64::from(x), f64::from(y));
        let inwards = (0..4).map(|k| {
            let ((ax, ay), (bx, by)) = (corners[k], corners[(k + 1) % 4]);
            let length = ((bx - ax) * (bx - ax) + (by - ay) * (by - ay)).sqrt();
            ((bx - ax) * (py - ay) - (by - ay) * (px - ax)) / length
        });
        // Half a pixel of blur on either side of the sheet's edge.
        let share = (0.5 + inwards.fold(f64::INFINITY, f64::min)).clamp(0.0, 1.0);
        let mut ink = 0.0;
        if share > 0.0 && written {
            for k in 0..9 {
                let (dx, dy) = (f64::from(k % 3) - 1.0, f64::from(k / 3) - 1.0);
                let (u, v) = to_sheet.apply(px + dx / 3.0, py + dy / 3.0);
                ink += f64::from(u8::from(is_ink(u, v))) / 9.0;
            }
        }
        let paper = 228.0 + 2.0 * grain(x, y) - 170.0 * ink;
        let fall = 1.0 - 0.25 * px / f64::from(size.0);
        let under = desk(x, y);
        Rgb([paper, paper - 3.0, paper - 12.0]
            .iter()
            .zip(under)
            .map(|(p, d)| (fall * (share * p + (1.0 - share) * d)).round() as u8)
            .collect::<Vec<_>>()
            .try_into()
            .expect("three channels"))
    });
    Photo { rgb }
}

fn worst(found: &Quad, truth: &Quad) -> f64 {
    found
        .iter()
        .zip(truth)
        .map(|(a, b)| ((a.0 - b.0) * (a.0 - b.0) + (a.1 - b.1) * (a.1 - b.1)).sqrt())
        .fold(0.0, f64::max)
}

#[test]
fn a_drawn_sheet_is_found_to_a_fraction_of_a_pixel() {
    let photo = sheet_photo(SIZE, &corners(), true);
    let page = find_page(&photo, &expect(Paper::A4)).expect("a sheet");
    let found = page.frame.to_photo.expect("a photograph").corners();
    assert!(worst(&found, &corners()) < 0.3, "{found:?}");
    assert_eq!(page.frame.scale_source, ScaleSource::Paper);
    assert_eq!(page.frame.px_per_mm, 8.0);
    assert_eq!(page.grey.dimensions(), (1680, 2376));
    assert_eq!(page.rgb.dimensions(), page.grey.dimensions());
    // ISO 216 alone: 2 / sqrt(3) mm on each side, averaged over both.
    assert!((page.frame.scale_se.0 - 0.0034).abs() < 0.0004);
    assert_eq!(page.photo_size, Some(SIZE));
}

#[test]
fn ink_stands_on_the_flat_sheet_where_it_was_drawn() {
    let photo = sheet_photo(SIZE, &corners(), true);
    let page = find_page(&photo, &expect(Paper::A4)).expect("a sheet");
    let (mut wrong, mut all) = (0, 0);
    for (x, y, pixel) in page.grey.enumerate_pixels() {
        let at = |v: u32| (f64::from(v) + 0.5) / page.frame.px_per_mm;
        let (u, v) = (at(x), at(y));
        // Places at least 0.25 mm inside ink or inside paper.
        let near = [(0.25, 0.0), (-0.25, 0.0), (0.0, 0.25), (0.0, -0.25)];
        let here = is_ink(u, v);
        if near.iter().any(|d| is_ink(u + d.0, v + d.1) != here) || !(20.0..170.0).contains(&v) {
            continue;
        }
        all += 1;
        wrong += u32::from((pixel.0[0] < 130) != here);
    }
    assert!(wrong * 1000 < all, "{wrong} of {all}");
}

#[test]
fn a_blank_sheet_is_a_sheet_and_a_desk_is_not() {
    let blank = sheet_photo(SIZE, &corners(), false);
    assert!(find_page(&blank, &expect(Paper::A4)).is_ok());
    let desk = desk_photo(SIZE);
    let found = find_page(&desk, &expect(Paper::A4)).err();
    assert_eq!(found, Some(PageError::NoPaper));
}

#[test]
fn a_sheet_lying_on_its_side_or_upside_down_is_turned_by_its_writing() {
    let photo = sheet_photo(SIZE, &corners(), true);
    let (w, h) = (f64::from(SIZE.0) - 1.0, f64::from(SIZE.1) - 1.0);
    // Where a point goes, from its place and the last column and row of the picture before.
    type Turn = fn(f64, f64, f64, f64) -> (f64, f64);
    let turns: [(RgbImage, Turn); 3] = [
        (image::imageops::rotate90(&photo.rgb), |x, y, _, h| {
            (h - y, x)
        }),
        (image::imageops::rotate180(&photo.rgb), |x, y, w, h| {
            (w - x, h - y)
        }),
        (image::imageops::rotate270(&photo.rgb), |x, y, w, _| {
            (y, w - x)
        }),
    ];
    for (rgb, turn) in turns {
        let page = find_page(&Photo { rgb }, &expect(Paper::A4)).expect("a sheet");
        let found = page.frame.to_photo.expect("a photograph").corners();
        let truth = corners().map(|(x, y)| turn(x, y, w, h));
        assert!(worst(&found, &truth) < 0.4, "{found:?} is not {truth:?}");
    }
}

#[test]
fn tiny_and_flat_pictures_hold_no_sheet() {
    for (w, h) in [(1, 1), (3, 700), (700, 3), (400, 400)] {
        let rgb = RgbImage::from_pixel(w, h, Rgb([200; 3]));
        assert!(find_page(&Photo { rgb }, &expect(Paper::A5)).is_err());
    }
}

/// A camera that nods over an A4 sheet bent into a part of a cylinder, seen through a lens that
/// draws the corners of the picture in. Rays are cut with the cylinder; nothing here is shared with
/// what is tested.
struct Bent {
    /// Radius of the cylinder, mm; the middle of the sheet lies nearest to the camera.
    radius: f64,
    nod: f64,
    barrel: f64,
}

impl Bent {
    const DISTANCE: f64 = 330.0;

    /// Millimetres on the sheet at a place of the photograph.
    fn on_sheet(&self, size: (u32, u32), px: f64, py: f64) -> Option<(f64, f64)> {
        let (w, h) = (f64::from(size.0), f64::from(size.1));
        let half = 0.5 * (w * w + h * h).sqrt();
        let (u, v) = ((px - 0.5 * (w - 1.0)) / half, (py - 0.5 * (h - 1.0)) / half);
        let (mut a, mut b) = (u, v);
        for _ in 0..20 {
            let bent = 1.0 - self.barrel * (a * a + b * b);
            (a, b) = (u / bent, v / bent);
        }
        let scale = half / (0.8 * h.max(w));
        let cosine = (1.0 - self.nod * self.nod).sqrt();
        // The ray from the camera, in the sheet's own directions.
        let turn = |y: f64, z: f64| (y * cosine + z * self.nod, z * cosine - y * self.nod);
        let (ray_y, ray_z) = turn(b * scale, 1.0);
        let ray_x = a * scale;
        let (eye_y, eye_z) = turn(0.0, -Self::DISTANCE);
        // x² + (z - radius)² = radius², the nearer of the two.
        let r = self.radius;
        let (p, q) = (ray_x * ray_x + ray_z * ray_z, ray_z * (eye_z - r));
        let c = (eye_z - r) * (eye_z - r) - r * r;
        let under = q * q - p * c;
        let t = (-q - (under >= 0.0).then(|| under.sqrt())?) / p;
        let (x, z) = (t * ray_x, eye_z + t * ray_z);
        let sine = x / r;
        // The arc sine's series: the sheet bends by less than a quarter of a turn.
        let arc = r * (sine + sine * sine * sine / 6.0 + 0.075 * sine * sine * sine * sine * sine);
        (z < r).then_some((arc + 105.0, eye_y + t * ray_y + 148.5))
    }

    fn photo(&self, size: (u32, u32)) -> Photo {
        let rgb = RgbImage::from_fn(size.0, size.1, |x, y| {
            let mut sum = [0.0; 3];
            for k in 0..9 {
                let (dx, dy) = (f64::from(k % 3) - 1.0, f64::from(k / 3) - 1.0);
                let at = self.on_sheet(size, f64::from(x) + dx / 3.0, f64::from(y) + dy / 3.0);
                let paper =
                    at.filter(|(u, v)| (0.0..210.0).contains(u) && (0.0..297.0).contains(v));
                let colour = match paper {
                    Some((u, v)) if is_ink(u, v) => [60.0, 60.0, 66.0],
                    Some(_) => [228.0, 225.0, 216.0],
                    None => desk(x, y),
                };
                for (s, c) in sum.iter_mut().zip(colour) {
                    *s += c / 9.0;
                }
            }
            Rgb(sum.map(|v| v.round() as u8))
        });
        Photo { rgb }
    }
}

#[test]
fn a_bent_sheet_before_a_bent_lens_is_made_straight() {
    for (radius, nod, barrel) in [(2000.0, 0.17, 0.0), (700.0, 0.2, 0.03), (1e6, 0.1, -0.02)] {
        let bent = Bent {
            radius,
            nod,
            barrel,
        };
        let size = (1050, 1400);
        let page = find_page(&bent.photo(size), &expect(Paper::A4)).expect("a sheet");
        let mesh = page.frame.to_photo.expect("a photograph");
        for k in 0..35 {
            let (u, v) = (f64::from(k % 5) / 4.0, f64::from(k / 5) / 6.0);
            let (x, y) = mesh.at(0.02 + 0.96 * u, 0.02 + 0.96 * v);
            let (a, b) = bent.on_sheet(size, x, y).expect("on the sheet");
            let off = (
                (a - 210.0 * (0.02 + 0.96 * u)),
                (b - 297.0 * (0.02 + 0.96 * v)),
            );
            // A pixel is 0.26 mm here.
            assert!(
                off.0.abs() < 0.25 && off.1.abs() < 0.25,
                "radius {radius}: {off:?} mm at {u}, {v}"
            );
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]
    #[test]
    fn sheets_are_found_wherever_they_lie(
        turn in -0.3..0.3f64,
        lean in -0.35..0.35f64,
        nod in -0.35..0.35f64,
        far in 1.15..1.5f64,
    ) {
        let size = (450, 600);
        let corners = seen_by_camera(size, turn, lean, nod, far);
        let photo = sheet_photo(size, &corners, true);
        let page = find_page(&photo, &expect(Paper::A4)).expect("a sheet");
        let found = page.frame.to_photo.expect("a photograph").corners();
        // A corner may lie outside the picture.
        prop_assert!(worst(&found, &corners) < 1.0, "{found:?} is not {corners:?}");
    }
}
