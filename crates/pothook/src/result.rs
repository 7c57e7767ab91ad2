//! A reading as a result file: places in pixels of the upright photograph. The schema is written
//! down in `tests/pages/README.md`.

mod measures;
mod places;

use app::api::Measured;
use app::units::{BoxMm, Frame, PointMm, ScaleSource};
use serde_json::json;

/// The result as JSON text.
pub(crate) fn of(image: &str, measured: &Measured) -> String {
    let reading = &measured.reading;
    let at = Mapping::new(&reading.frame);
    let result = json!({
        "image": image,
        "engine": reading.engine,
        "scale": {
            "mm_per_px_at_centre": at.mm_per_px(),
            "source": source(reading.frame.scale_source),
        },
        "page_corners_px": at.corners(),
        "ruling_pitch_mm": reading.ruling.as_ref().map(|ruling| ruling.pitch.0),
        "fitness": measured.checks,
        "lines": places::lines(reading, &at),
        "words": places::words(reading, &at),
        "letters": places::letters(reading, &at),
        "joins": places::joins(reading),
        "corrections": places::corrections(reading, &at),
        "text_fit": reading.text.as_ref().map(|fit| places::text_fit(fit, &at)),
        "measures": measures::all(reading),
    });
    serde_json::to_string_pretty(&result).expect("a result is plain data")
}

/// From millimetres on the sheet to pixels of the upright photograph.
struct Mapping<'a> {
    frame: &'a Frame,
}

impl<'a> Mapping<'a> {
    fn new(frame: &'a Frame) -> Self {
        Self { frame }
    }

    fn point(&self, x: f64, y: f64) -> [f64; 2] {
        let Frame { width, height, .. } = self.frame;
        let k = self.frame.px_per_mm;
        let at = match &self.frame.to_photo {
            Some(mesh) => mesh.at(x / width.0, y / height.0),
            // Without a photograph the page picture itself is the picture.
            None => (k * x - 0.5, k * y - 0.5),
        };
        let rounded = |value: f64| (value * 100.0).round() / 100.0;
        [rounded(at.0), rounded(at.1)]
    }

    fn polygon(&self, place: &BoxMm) -> [[f64; 2]; 4] {
        let BoxMm { x0, y0, x1, y1 } = *place;
        [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| self.point(x.0, y.0))
    }

    fn corners(&self) -> [[f64; 2]; 4] {
        let (width, height) = (self.frame.width.0, self.frame.height.0);
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)].map(|(x, y)| self.point(x, y))
    }

    fn path(&self, points: &[PointMm]) -> Vec<[f64; 2]> {
        points
            .iter()
            .map(|point| self.point(point.x.0, point.y.0))
            .collect()
    }

    /// Square root of the area that a pixel covers at the middle of the sheet.
    fn mm_per_px(&self) -> f64 {
        let (x, y) = (self.frame.width.0 / 2.0, self.frame.height.0 / 2.0);
        let [x0, y0] = self.point(x - 5.0, y);
        let [x1, y1] = self.point(x + 5.0, y);
        let [x2, y2] = self.point(x, y - 5.0);
        let [x3, y3] = self.point(x, y + 5.0);
        let area = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2);
        10.0 / area.abs().sqrt()
    }
}

fn source(source: ScaleSource) -> &'static str {
    match source {
        ScaleSource::Sheet => "sheet",
        ScaleSource::Ruling => "ruling",
        ScaleSource::Paper => "paper",
    }
}
