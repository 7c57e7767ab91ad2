//! The measures of a reading by the names of the result schema.

use app::units::{MeasureName, Outcome, Reading};
use serde_json::{Value, json};

pub(super) fn all(reading: &Reading) -> Value {
    let mut named = serde_json::Map::new();
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
            MeasureName::LetterGap => drop(named.insert("letter_gap_sd_o".into(), spread.into())),
            MeasureName::WordGap => drop(named.insert("word_gap_sd_o".into(), spread.into())),
            _ => {}
        }
        if measure.name == MeasureName::Growth {
            named.insert("x_height_trend".into(), over_a_line(&value, reading));
        }
        named.insert(name.to_owned(), value);
    }
    Value::Object(named)
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
        MeasureName::TallClear => "tall_clear",
        MeasureName::WellFormed => "well_formed",
        MeasureName::JoinsMade => "joins_made",
        MeasureName::LetterGapCv | MeasureName::WordGapCv => return None,
    })
}
