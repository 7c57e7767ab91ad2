//! A drawn page before a camera, and what is measured on it.

use demo::camera::Camera;
use demo::desk::Top;
use demo::font::{Fonts, Shapes};
use demo::hand::Hand;
use demo::ink::Tool;
use demo::light::Light;
use demo::page::{Drawn, PageSpec};
use demo::paper::Sheet;
use units::{Expectation, LetterModel, MeasureName, Mm, Outcome, Paper, Reading, Ruling};

const TEXT: &str = "the small boat went out before the sun was up\nand came home with a net full \
                    of fish for the old man\nwho had waited by the water all the long day";
const RULING: Ruling = Ruling::Lines { pitch: Mm(10.0) };

/// The fonts that set-up brings.
pub fn fonts() -> Fonts {
    Fonts::load(&Fonts::folder()).expect("the fonts that set-up brings")
}

/// A camera of 1680 × 2240 pixels over a page.
pub fn camera(tilt: (f64, f64), turn: f64) -> Camera {
    Camera {
        tilt,
        turn,
        fill: 0.9,
        ..Camera::above(1680, 2240)
    }
}

/// The page that follows from a seed, seen by a camera.
pub fn draw(fonts: &Fonts, paper: Paper, camera: Camera, light: Light, seed: u64) -> Drawn {
    let spec = PageSpec {
        seed,
        text: TEXT.to_owned(),
        hand: Hand::even(Shapes::Open, 3.0),
        tool: Tool::PENCIL,
        sheet: Sheet::new(paper, RULING),
        top: Top::Pine,
        clutter: 2,
        light,
        camera,
    };
    spec.draw(fonts)
}

/// Photograph to reading.
pub fn read(drawn: &Drawn, paper: Paper) -> Result<Reading, String> {
    let expect = Expectation {
        paper,
        ruling: RULING,
        model: LetterModel::unjoined(),
        text: Some(drawn.text.clone()),
        minutes: None,
        amendments: Vec::new(),
    };
    let photo = metrics::decode(&drawn.jpeg).map_err(|e| e.to_string())?;
    let page = metrics::find_page(&photo, &expect).map_err(|e| e.to_string())?;
    Ok(metrics::read_page(&page, &expect, metrics::fitness(&page)))
}

/// A measure's value and standard error.
pub fn value(reading: &Reading, name: MeasureName) -> Result<(f64, f64), String> {
    let found = reading.measures.iter().find(|m| m.name == name);
    match found.map(|m| &m.outcome) {
        Some(Outcome::Measured { value, se, .. }) => Ok((*value, *se)),
        other => Err(format!("{name:?}: {other:?}")),
    }
}
