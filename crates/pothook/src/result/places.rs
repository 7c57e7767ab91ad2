//! Where everything of a reading is, in pixels of the upright photograph.

use app::units::{BoxMm, CorrectionKind, Fault, JoinVerdict, Reading, Reads, TextFit};
use serde_json::{Value, json};

use super::Mapping;
use crate::names::fault_name;

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

pub(super) fn lines(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
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

pub(super) fn words(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
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

pub(super) fn letters(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
    reading
        .letters
        .iter()
        .map(|letter| {
            // Here a letter's place is all of its ink, dot and all.
            let whole = letter.dot.iter().fold(letter.bounds, BoxMm::union);
            let polygon = at.polygon(&whole);
            json!({
                "line": letter.line,
                "word": letter.word,
                "char": letter.char,
                "box_px": box_px(&polygon),
                "polygon_px": polygon,
                "foot_px": letter.foot.map(|foot| at.point(foot.x.0, foot.y.0)),
                "body_mm": letter.body.map(|body| body.0),
                "confidence": letter.confidence.0,
                "open_top": letter.bowl.map(|bowl| bowl.open),
                "reads_as": letter.reads.and_then(reads_as),
                "faults": letter.faults.iter().map(fault).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// What else a letter reads as, where it does not read as the one meant.
fn reads_as(reads: Reads) -> Option<char> {
    reads.other.filter(|_| reads.as_meant.0 < 0.5)
}

fn fault(fault: &Fault) -> Value {
    json!({ "name": fault_name(fault.kind), "figure": fault.figure.map(|figure| figure.0) })
}

pub(super) fn joins(reading: &Reading) -> Vec<Value> {
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

pub(super) fn corrections(reading: &Reading, at: &Mapping<'_>) -> Vec<Value> {
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

/// How the known text goes with the ink.
pub(super) fn text_fit(fit: &TextFit, at: &Mapping<'_>) -> Value {
    let skipped = fit.skipped.iter().map(|skipped| {
        let polygon = at.polygon(&skipped.at);
        json!({
            "line": skipped.line,
            "letter": skipped.letter,
            "box_px": box_px(&polygon),
            "polygon_px": polygon,
        })
    });
    let extra = fit.extra.iter().map(|place| {
        let polygon = at.polygon(place);
        json!({ "box_px": box_px(&polygon), "polygon_px": polygon })
    });
    json!({
        "fits": fit.fits,
        "letters": fit.letters,
        "found": fit.found,
        "other_lines": fit.other_lines,
        "skipped": skipped.collect::<Vec<_>>(),
        "extra": extra.collect::<Vec<_>>(),
    })
}
