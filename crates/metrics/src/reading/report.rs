//! What was found → the records that are kept: millimetres, rounded to fixed decimals.

use units::{
    Correction, Degrees, Join, Line, Measure, MeasureName, Mm, Outcome, PointMm, Ratio, WhyNot,
};

use crate::aspects::{self, Evidence, Mended};
use crate::letters::formed::{self, Formed};
use crate::letters::{Glyph, WordInk, joins};
use crate::maths::atan;
use crate::pieces::{BoxPx, Piece};
use crate::stats::{Curve, round};

pub(super) fn box_mm(b: BoxPx, mm: f64) -> units::BoxMm {
    rounded_box(b.in_mm(mm))
}

fn rounded_box(b: units::BoxMm) -> units::BoxMm {
    units::BoxMm {
        x0: Mm(round(b.x0.0, 2)),
        y0: Mm(round(b.y0.0, 2)),
        x1: Mm(round(b.x1.0, 2)),
        y1: Mm(round(b.y1.0, 2)),
    }
}

pub(super) fn lines(evidence: &Evidence<'_>) -> Vec<Line> {
    let fits = aspects::baseline::fits(evidence);
    evidence
        .lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let bounds = Piece::union(
                evidence
                    .words
                    .iter()
                    .filter(|w| w.line == index)
                    .map(|w| &w.piece),
            );
            let bounds = if bounds.runs.is_empty() {
                Piece::union(line.pieces.iter()).bounds()
            } else {
                bounds.bounds()
            };
            let fit = fits.iter().find(|f| f.line == index);
            let curve = fit.and_then(|f| {
                let feet: Vec<(f64, f64)> = f.feet.iter().map(|p| (p.0, p.1)).collect();
                Curve::fit(&feet, 3)
            });
            let (first, last) = (f64::from(bounds.x0), f64::from(bounds.x1));
            let baseline = (0..=6)
                .map(|k| {
                    let x = first + (last - first) * f64::from(k) / 6.0;
                    let row = curve.map_or(line.base_at(x), |c| c.at(x));
                    PointMm {
                        x: Mm(round(x * evidence.mm, 2)),
                        y: Mm(round(evidence.level.on_sheet(x, row) * evidence.mm, 2)),
                    }
                })
                .collect();
            Line {
                bounds: box_mm(bounds, evidence.mm),
                baseline,
                x_height: Some(Mm(round(line.x_height * evidence.mm, 3))),
                drift: fit.map(|f| Degrees(round(-atan(f.slope).to_degrees(), 3))),
            }
        })
        .collect()
}

pub(super) fn word(of: &WordInk, mm: f64) -> units::Word {
    units::Word {
        line: of.line,
        bounds: box_mm(of.piece.bounds(), mm),
        text: of.text.clone(),
        struck: of.struck.is_some(),
    }
}

pub(super) fn letter(evidence: &Evidence<'_>, glyph: &Glyph, formed: &Formed) -> units::Letter {
    units::Letter {
        line: glyph.line,
        word: glyph.word,
        bounds: rounded_box(evidence.place(glyph)),
        dot: dot(&glyph.dots).map(|bounds| box_mm(bounds, evidence.mm)),
        class: glyph.class,
        char: glyph.ch,
        // None at all has only what a person said is no letter.
        confidence: match glyph.identity {
            0.0 => Ratio(0.0),
            some => Ratio(round(some, 3).max(0.001)),
        },
        slant: aspects::slant::stem(evidence, glyph).map(|s| Degrees(round(s.lean, 2))),
        bowl: formed.bowl,
        foot: Some(foot(evidence, glyph)),
        body: formed::body_top(evidence, glyph)
            .filter(|_| glyph.identity >= aspects::SURE)
            .map(|high| Mm(round(high * evidence.mm, 2))),
        reads: formed.reads,
        faults: formed.faults.clone(),
        by_hand: glyph.by_hand || formed.by_hand,
    }
}

/// The baseline under a letter's middle.
fn foot(evidence: &Evidence<'_>, glyph: &Glyph) -> PointMm {
    let x = (glyph.edges.left + glyph.edges.right) / 2.0;
    let row = evidence.lines[glyph.line].base_at(x);
    PointMm {
        x: Mm(round(x * evidence.mm, 2)),
        y: Mm(round(evidence.level.on_sheet(x, row) * evidence.mm, 2)),
    }
}

pub(super) fn join(join: &joins::Join) -> Join {
    Join {
        left: join.left,
        verdict: join.verdict,
        height: join.height.map(|h| Ratio(round(h, 2))),
        by_hand: join.by_hand,
    }
}

fn dot(dots: &[Piece]) -> Option<BoxPx> {
    dots.iter().map(Piece::bounds).reduce(BoxPx::join)
}

pub(super) fn correction(mended: &Mended, mm: f64) -> Correction {
    Correction {
        kind: mended.kind,
        bounds: box_mm(mended.bounds, mm),
        by_hand: mended.by_hand,
    }
}

/// Measures, those marked that nobody's help would have made otherwise. `unhelped` are the measures of
/// the same page without it.
pub(super) fn marked(measures: &mut [Measure], unhelped: &[Measure]) {
    for (measure, before) in measures.iter_mut().zip(unhelped) {
        measure.by_hand = measure.outcome != before.outcome;
    }
}

/// Every measure once, in the fixed order, rounded.
pub(super) fn in_order(named: Vec<aspects::Named>) -> Vec<Measure> {
    MeasureName::ALL
        .iter()
        .map(|name| {
            let outcome = named
                .iter()
                .find(|(n, _)| n == name)
                .map_or(aspects::missing(WhyNot::TooFewLetters), |(_, o)| o.clone());
            Measure {
                name: *name,
                outcome: rounded(outcome),
                by_hand: false,
            }
        })
        .collect()
}

fn rounded(outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::Measured {
            value,
            se,
            spread,
            n,
            places,
        } => Outcome::Measured {
            value: round(value, 4),
            se: round(se, 4).max(0.0001),
            spread: spread.map(|s| round(s, 4)),
            n,
            places: places.into_iter().map(rounded_box).collect(),
        },
        missing => missing,
    }
}
