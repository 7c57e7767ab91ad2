//! A reading as a result file: places in pixels of the upright photograph. The schema is written
//! down in `tests/pages/README.md`.

use app::api::Measured;
use app::units::{
    BoxMm, CorrectionKind, Frame, JoinVerdict, MeasureName, Mm, Outcome, PointMm, Reading,
    ScaleSource,
};
use serde_json::{Value, json};

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
        "lines": lines(reading, &at),
        "words": words(reading, &at),
        "letters": letters(reading, &at),
        "joins": joins(reading),
        "corrections": corrections(reading, &at),
        "measures": measures(reading),
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

fn box_px(polygon: &[[f64; 2]; 4]) -> [f64; 4] {
    let least = |axis: usize| {
        polygon
            .iter()
            .map(|point| point[axis])
            .fold(f64::MAX, f64::min)
    };
    let most = |axis: usize| {
        polygon
            .iter()
            .map(|point| point[axis])
            .fold(f64::MIN, f64::max)
    };
    [least(0), least(1), most(0), most(1)]
}

fn source(source: ScaleSource) -> &'static str {
    match source {
        ScaleSource::Sheet => "sheet",
        ScaleSource::Ruling => "ruling",
        ScaleSource::Paper => "paper",
    }
}

fn lines(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
    reading
        .lines
        .iter()
        .map(|line| {
            let polygon = at.polygon(&line.bounds);
            json!({
                "box_px": box_px(&polygon),
                "polygon_px": polygon,
                "baseline_px": at.path(&line.baseline),
                "drift_deg": line.drift.map(|drift| drift.0),
            })
        })
        .collect()
}

fn words(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
    reading
        .words
        .iter()
        .map(|word| {
            let polygon = at.polygon(&word.bounds);
            json!({
                "line": word.line,
                "box_px": box_px(&polygon),
                "polygon_px": polygon,
                "text": word.text,
                "struck": word.struck,
            })
        })
        .collect()
}

fn letters(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
    reading
        .letters
        .iter()
        .map(|letter| {
            // Here a letter's place is all of its ink, dot and all.
            let whole = letter.dot.iter().fold(letter.bounds, around);
            let polygon = at.polygon(&whole);
            json!({
                "line": letter.line,
                "word": letter.word,
                "char": letter.char,
                "box_px": box_px(&polygon),
                "polygon_px": polygon,
                "confidence": letter.confidence.0,
                "open_top": letter.bowl.map(|bowl| bowl.open),
            })
        })
        .collect()
}

fn joins(reading: &Reading) -> Vec<Value> {
    let joins = reading.joins.iter().map(|join| {
        let verdict = match join.verdict {
            JoinVerdict::Joined => "joined",
            JoinVerdict::Missing => "missing",
            JoinVerdict::WrongHeight => "wrong_height",
        };
        json!({
            "left_letter": join.left,
            "right_letter": join.left + 1,
            "verdict": verdict,
            "height": join.height.map(|height| height.0),
        })
    });
    joins.collect()
}

fn around(a: BoxMm, b: &BoxMm) -> BoxMm {
    let lesser = |a: Mm, b: Mm| Mm(a.0.min(b.0));
    let greater = |a: Mm, b: Mm| Mm(a.0.max(b.0));
    BoxMm {
        x0: lesser(a.x0, b.x0),
        y0: lesser(a.y0, b.y0),
        x1: greater(a.x1, b.x1),
        y1: greater(a.y1, b.y1),
    }
}

fn corrections(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
    reading
        .corrections
        .iter()
        .map(|correction| {
            let polygon = at.polygon(&correction.bounds);
            let kind = match correction.kind {
                CorrectionKind::StruckOnce => "strike",
                CorrectionKind::StruckManyTimes => "scribble",
                CorrectionKind::WrittenOver => "overwrite",
                CorrectionKind::Bracketed => "bracket",
            };
            json!({ "kind": kind, "box_px": box_px(&polygon), "polygon_px": polygon })
        })
        .collect()
}

fn measures(reading: &Reading) -> Value {
    let mut all = serde_json::Map::new();
    for measure in &reading.measures {
        let Some(name) = long_name(measure.name) else {
            continue;
        };
        let (value, spread) = match &measure.outcome {
            // Per cent for each 100 mm becomes a share over an ordinary line of 100 mm.
            Outcome::Measured {
                value,
                se,
                n,
                spread,
                ..
            } => {
                let k = if measure.name == MeasureName::Growth {
                    0.01
                } else {
                    1.0
                };
                let whole = json!({ "value": value * k, "se": se * k, "n": n });
                // A standard deviation is as sure, in proportion, as the coefficient of variation.
                let of_spread = |sd: f64| sd * unsure(reading, measure.name).unwrap_or(0.0);
                (
                    whole,
                    spread.map(|sd| json!({ "value": sd, "se": of_spread(sd), "n": n })),
                )
            }
            Outcome::NotMeasured { .. } => (Value::Null, None),
        };
        match measure.name {
            MeasureName::LetterGap => drop(all.insert("letter_gap_sd_o".into(), spread.into())),
            MeasureName::WordGap => drop(all.insert("word_gap_sd_o".into(), spread.into())),
            _ => {}
        }
        if measure.name == MeasureName::Growth {
            all.insert("x_height_trend".into(), over_a_line(&value, reading));
        }
        all.insert(name.to_owned(), value);
    }
    Value::Object(all)
}

/// Relative standard error of the coefficient of variation that goes with a measure.
fn unsure(reading: &Reading, name: MeasureName) -> Option<f64> {
    let variation = match name {
        MeasureName::LetterGap => MeasureName::LetterGapCv,
        MeasureName::WordGap => MeasureName::WordGapCv,
        _ => return None,
    };
    let found = reading.measures.iter().find(|m| m.name == variation)?;
    match found.outcome {
        Outcome::Measured { value, se, .. } => Some(se / value.max(1e-3)),
        Outcome::NotMeasured { .. } => None,
    }
}

/// Growth over a line's own width in place of 100 mm: the mean width of the lines long enough to
/// have a growth at all.
fn over_a_line(per_100_mm: &Value, reading: &Reading) -> Value {
    let widths = reading
        .lines
        .iter()
        .map(|line| (line.bounds.x1 - line.bounds.x0).0);
    let widths: Vec<f64> = widths.filter(|width| *width > 40.0).collect();
    let lines = widths.len().max(1) as f64;
    let k = widths.iter().sum::<f64>() / lines / 100.0;
    let scaled = |part: &str| per_100_mm[part].as_f64().map(|figure| figure * k);
    match (scaled("value"), scaled("se")) {
        (Some(value), Some(se)) => json!({ "value": value, "se": se, "n": per_100_mm["n"] }),
        _ => Value::Null,
    }
}

/// Names of the result schema say their unit; measures that it does not have are left out.
fn long_name(name: MeasureName) -> Option<&'static str> {
    Some(match name {
        MeasureName::Drift => "drift_deg",
        MeasureName::Wander => "wander_mm",
        MeasureName::Offset => "offset_mm",
        MeasureName::OnLine => "on_line",
        MeasureName::XHeight => "x_height_mm",
        MeasureName::XHeightCv => "x_height_cv",
        MeasureName::Growth => "growth_per_100_mm",
        MeasureName::AscenderRatio => "ascender_ratio",
        MeasureName::DescenderRatio => "descender_ratio",
        MeasureName::LetterGap => "letter_gap_o",
        MeasureName::WordGap => "word_gap_o",
        MeasureName::OWidth => "o_width_mm",
        MeasureName::Slant => "slant_deg",
        MeasureName::SlantSd => "slant_sd_deg",
        MeasureName::Corrections => "corrections_per_100_words",
        MeasureName::Pace => "letters_per_minute",
        MeasureName::LetterGapCv | MeasureName::WordGapCv => return None,
    })
}
