//! The truth is where the ink is: letters are filled one by one and their edges compared.

use demo::hand::Hand;
use demo::raster::fill;
use demo::writer::write;
use demo::{Fonts, Shapes, outline, paper, texts};
use units::{Mm, Paper, Ruling};

const PX_PER_MM: f64 = 20.0;

/// Top and bottom of the half-covered rows of a filled outline, mm.
fn inked_rows(shape: &[Vec<outline::Point>]) -> (f64, f64) {
    let cover = fill(shape, PX_PER_MM);
    let darkest = |row: &[u8]| f64::from(*row.iter().max().unwrap_or(&0)) / 255.0;
    let rows: Vec<f64> = cover.alpha.chunks(cover.width).map(darkest).collect();
    let first = rows.iter().position(|dark| *dark > 0.0).expect("has ink");
    let last = rows.iter().rposition(|dark| *dark > 0.0).expect("has ink");
    // The outermost row is covered as far as the ink reaches into it.
    let top = f64::from(cover.top) + first as f64 + 1.0 - rows[first];
    let bottom = f64::from(cover.top) + last as f64 + rows[last];
    (top / PX_PER_MM, bottom / PX_PER_MM)
}

#[test]
fn every_letter_fills_its_box() {
    let fonts = Fonts::load(&Fonts::folder()).expect("run `npm ci` in demo/fonts");
    for shapes in Shapes::ALL {
        let sheet = paper::Sheet::new(Paper::A4, Ruling::Lines { pitch: Mm(10.0) });
        let mut hand = Hand::even(shapes, 2.8);
        hand.slant = 8.0;
        let writing = write(&fonts, texts::LONG[1], &sheet, &hand, 3);
        assert!(writing.letters.len() > 200 && writing.left_over == 0);
        for letter in &writing.letters {
            let found = outline::bounds(&letter.body).expect("has ink");
            let (top, bottom) = inked_rows(&letter.body);
            // A round top covers its outermost row only in part: up to a pixel is lost.
            let lost = 1.0 / PX_PER_MM;
            let name = letter.char;
            assert!(
                (-0.001..lost).contains(&(top - found.y0.0)),
                "{shapes:?} {name} top"
            );
            assert!(
                (-0.001..lost).contains(&(found.y1.0 - bottom)),
                "{shapes:?} {name} foot"
            );
        }
    }
}

#[test]
fn a_hand_writes_as_it_was_told() {
    let fonts = Fonts::load(&Fonts::folder()).expect("run `npm ci` in demo/fonts");
    let sheet = paper::Sheet::new(Paper::A4, Ruling::Lines { pitch: Mm(10.0) });
    let hand = Hand {
        drift: 0.8,
        drift_sd: 0.0,
        slant: 10.0,
        word_gap: 1.5,
        letter_gap: 0.35,
        ..Hand::even(Shapes::Open, 2.6)
    };
    let upright = Hand {
        slant: 0.0,
        ..hand.clone()
    };
    let camera = demo::camera::Camera::above(600, 800);
    let truth = |hand: &Hand| {
        let writing = write(&fonts, texts::LONG[0], &sheet, hand, 11);
        let view = camera.view(sheet.size());
        demo::truth::of(&writing, &sheet, &hand.shapes.model(), &view, [600, 800]).measures
    };
    let (leaning, straight) = (truth(&hand), truth(&upright));
    let near = |name: &str, wanted: f64, within: f64| {
        let found = leaning[name].expect("is known");
        assert!(
            (found - wanted).abs() < within,
            "{name}: {found} for {wanted}"
        );
    };
    near("drift", 0.8, 0.1);
    near("x_height", 2.6, 0.08);
    near("letter_gap", 0.35, 0.05);
    near("word_gap", 1.5, 0.15);
    let lean = leaning["slant"].zip(straight["slant"]).map(|(a, b)| a - b);
    assert!((lean.expect("is known") - 10.0).abs() < 0.5, "{lean:?}");
}
