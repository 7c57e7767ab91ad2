//! A drawn sheet on a drawn table, photographed and read, the whole way.

use demo::camera::{self, Camera, Scene};
use demo::desk::{Desk, Top};
use demo::ink::{self, Tool};
use demo::light::Light;
use demo::noise::Noise;
use demo::paper::Sheet;
use demo::writing::Writing;
use metrics::{Page, Photo, decode, find_page, fitness, read_page};
use units::{Expectation, LetterModel, MeasureName, Outcome, Reading};

const SEED: u64 = 20;

/// A camera held a little askew: five degrees of tilt, two of turn.
pub fn held(width: u32, height: u32) -> Camera {
    Camera {
        turn: 2.0,
        tilt: (5.0, -3.0),
        fill: 0.94,
        noise: 1.2,
        quality: 88,
        ..Camera::above(width, height)
    }
}

/// The bytes of a photograph of the sheet.
pub fn photograph(sheet: &Sheet, writing: &Writing, camera: &Camera) -> Vec<u8> {
    let noise = Noise::new(SEED);
    let mut layer = sheet.print(14.0, &noise);
    ink::apply(&mut layer, writing, &Tool::BLACK_PEN, &noise);
    let desk = Desk::new(Top::Pine, 0, sheet.size(), SEED);
    let scene = Scene {
        sheet: &layer,
        size: sheet.size(),
        desk: &desk,
        light: &Light::even(),
        noise: &noise,
        seed: SEED,
    };
    camera::photograph(camera, &scene)
}

/// What is known of the sheet beforehand.
pub fn expectation(sheet: &Sheet, text: Vec<String>) -> Expectation {
    Expectation {
        paper: sheet.paper,
        ruling: sheet.ruling,
        model: LetterModel::unjoined(),
        text: Some(text),
        minutes: None,
        amendments: Vec::new(),
    }
}

/// Bytes → page → reading.
pub fn read(bytes: &[u8], expect: &Expectation) -> (Page, Reading) {
    read_photo(&decode(bytes).expect("a photograph"), expect)
}

/// The same from its pixels.
pub fn read_photo(photo: &Photo, expect: &Expectation) -> (Page, Reading) {
    let page = find_page(photo, expect).expect("a sheet in it");
    let reading = read_page(&page, expect, fitness(&page));
    (page, reading)
}

/// A measure's value and standard error; `None` where it was not taken.
pub fn figure(reading: &Reading, name: MeasureName) -> Option<(f64, f64)> {
    let measure = reading.measures.iter().find(|m| m.name == name);
    match &measure.expect("every measure is there").outcome {
        Outcome::Measured { value, se, .. } => Some((*value, *se)),
        Outcome::NotMeasured { .. } => None,
    }
}
