//! What is printed on the sheet, held against what is expected: which lines are written on, and the
//! scale that they give.

use units::{Expectation, Frame, Mm, PointMm, Ratio, Ruling, RulingFound, ScaleSource};

use super::Found;
use crate::Page;
use crate::lines::TextLine;
use crate::maths::hypot;
use crate::ruling::{self, Pitch, Print, Rule, Rulings};
use crate::stats::{self, round};

/// The ruling's repeat distance and the scale may differ by this much before they are held to be
/// of different papers.
const AGREE: f64 = 0.04;

/// Distance, in millimetres, after which the printed lines repeat.
pub(super) fn repeat(expect: &Expectation) -> f64 {
    match expect.ruling {
        Ruling::Squares { side, .. } => side.0,
        other => other.line_pitch().map_or(0.0, |p| p.0),
    }
}

/// What is expected to be printed, in pixels.
pub(super) fn print(expect: &Expectation, px_per_mm: f64) -> Print {
    let across = repeat(expect) * px_per_mm;
    let squares = matches!(expect.ruling, Ruling::Squares { .. });
    Print {
        across: (across > 0.0).then_some(across),
        down: squares.then_some(across),
    }
}

/// The repeat distance of the printed lines, and whether it is the expected one.
pub(super) fn pitch_of(
    rulings: &Rulings,
    expect: &Expectation,
    px_per_mm: f64,
) -> (Option<Pitch>, bool) {
    let rows: Vec<f64> = rulings.across.iter().map(Rule::middle).collect();
    if rows.len() < 3 {
        return (None, false);
    }
    let wanted = repeat(expect) * px_per_mm;
    if wanted > 0.0
        && let Some(pitch) = ruling::fit_pitch(&rows, wanted)
        && (pitch.px / wanted - 1.0).abs() <= AGREE
    {
        return (Some(pitch), true);
    }
    (ruling::find_pitch(&rows, px_per_mm), false)
}

/// The level row of the printed line that each line of writing stands on. Lines of writing agree
/// on which of several lines in a group that is. A line that climbs is begun on its rule and leaves
/// it: where it is begun says which rule that is.
pub(super) fn rules_under(
    lines: &[TextLine],
    rulings: &Rulings,
    pitch: Option<f64>,
) -> Vec<Option<f64>> {
    let rows: Vec<f64> = rulings.across.iter().map(|r| r.middle()).collect();
    let Some(pitch) = pitch.filter(|_| !rows.is_empty()) else {
        return vec![None; lines.len()];
    };
    let begun: Vec<f64> = lines
        .iter()
        .map(|line| {
            let lefts = line.pieces.iter().map(|p| p.bounds().x0);
            line.base_at(lefts.min().map_or(line.middle, f64::from))
        })
        .collect();
    let away = |row: f64, phase: f64| {
        let turns = (row - phase) / pitch;
        ((turns - turns.round()) * pitch).abs()
    };
    let misfit = |phase: f64| -> f64 {
        let each: Vec<f64> = begun.iter().map(|row| away(*row, phase)).collect();
        stats::median(&each).unwrap_or(0.0)
    };
    let phase = rows
        .iter()
        .copied()
        .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)));
    let Some(phase) = phase else {
        return vec![None; lines.len()];
    };
    begun
        .iter()
        .map(|begun| {
            let near = rows
                .iter()
                .copied()
                .filter(|r| away(*r, phase) < 0.06 * pitch)
                .min_by(|a, b| (a - begun).abs().total_cmp(&(b - begun).abs()))?;
            ((near - begun).abs() < 0.6 * pitch).then_some(near)
        })
        .collect()
}

/// The frame with the scale that the ruling gives, where it is the better one.
pub(super) fn scaled_frame(
    page: &Page,
    expect: &Expectation,
    (pitch, agrees): (Option<Pitch>, bool),
) -> Frame {
    let mut frame = page.frame.clone();
    let (Some(pitch), true) = (pitch, agrees) else {
        return frame;
    };
    if frame.scale_source == ScaleSource::Sheet {
        return frame;
    }
    let factor = repeat(expect) * frame.px_per_mm / pitch.px;
    frame.px_per_mm /= factor;
    frame.width = frame.width * factor;
    frame.height = frame.height * factor;
    frame.scale_source = ScaleSource::Ruling;
    // Printed rulings keep their pitch to a few parts in a thousand.
    frame.scale_se = Ratio(round(hypot(pitch.se / pitch.px, 0.0015), 5));
    frame.px_per_mm = round(frame.px_per_mm, 6);
    frame.width = Mm(round(frame.width.0, 3));
    frame.height = Mm(round(frame.height.0, 3));
    frame
}

pub(super) fn found(page: &Page, expect: &Expectation, on: &Found, mm: f64) -> Option<RulingFound> {
    let pitch = on.pitch?;
    let width = f64::from(page.grey.width());
    let written = if on.agrees {
        pitch.px * expect.ruling.line_pitch()?.0 / repeat(expect)
    } else {
        pitch.px
    };
    let phase = on.rules.iter().flatten().next().copied();
    let rules = on
        .rulings
        .across
        .iter()
        .filter(|r| {
            phase.is_none_or(|p| {
                let turns = (r.middle() - p) / written;
                (turns - turns.round()).abs() < 0.06
            })
        })
        .map(|r| {
            let point = |x: f64, y: f64| PointMm {
                x: Mm(round(x * mm, 2)),
                y: Mm(round(y * mm, 2)),
            };
            (point(0.0, r.at(0.0)), point(width, r.at(width)))
        })
        .collect();
    Some(RulingFound {
        pitch: Mm(round(written * mm, 3)),
        rules,
    })
}
