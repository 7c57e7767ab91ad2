//! White between letters and between words, in widths of this writer's own o.

use units::{BoxMm, LetterClass, MeasureName, Mm, Outcome, WhyNot};

use super::{
    Evidence, Mended, Named, SURE, Text, from_centre, measured, missing, plain, without_strays,
};
use crate::letters::Glyph;
use crate::maths::{hypot, square};
use crate::pieces::Piece;
use crate::stats;
use crate::words;

/// Fewer gaps say nothing about a page.
const LEAST: usize = 4;

/// The width of this writer's o in millimetres, its standard error, and where it was read.
struct Unit {
    width: f64,
    se: f64,
    spread: f64,
    all: Vec<(f64, BoxMm)>,
}

pub(super) fn measure(evidence: &Evidence<'_>) -> Vec<Named> {
    let unit = unit(evidence);
    let (letters, words) = whites(evidence);
    let unsure = 0.15 + 0.8 * evidence.alike_px();
    let between_words = if evidence.joined() { 1.6 } else { 0.2 };
    let (letter, letter_cv) = outcome(
        &letters,
        unit.as_ref(),
        (unsure * evidence.mm, evidence.mistaken(letters.len())),
        WhyNot::TooFewLetters,
    );
    let (word, word_cv) = outcome(
        &words,
        unit.as_ref(),
        (
            hypot(unsure, between_words) * evidence.mm,
            evidence.mistaken(words.len()),
        ),
        WhyNot::TooFewWords,
    );
    let touching = evidence.glyphs.iter().filter(|g| g.touches_next).count();
    let apart = 2 * touching <= letters.len();
    let told = |outcome: Outcome| {
        if apart {
            outcome
        } else {
            missing(WhyNot::LettersNotApart)
        }
    };
    let width = unit.map_or(missing(WhyNot::NoO), |u| {
        let n = u.all.len();
        let places = from_centre(&u.all, u.width);
        measured(u.width, u.se, Some(u.spread), n, places)
    });
    vec![
        (MeasureName::LetterGap, told(letter)),
        (MeasureName::LetterGapCv, told(letter_cv)),
        (MeasureName::WordGap, word),
        (MeasureName::WordGapCv, word_cv),
        (MeasureName::OWidth, width),
    ]
}

fn unit(evidence: &Evidence<'_>) -> Option<Unit> {
    let width = |g: &Glyph| (g.edges.right - g.edges.left) * evidence.mm;
    let touching = touching(evidence.glyphs);
    let known: Vec<(f64, BoxMm)> = evidence
        .glyphs
        .iter()
        .zip(touching)
        .filter(|(g, _)| g.ch == Some('o') && g.confidence >= SURE)
        .filter_map(|(g, touches)| {
            let width = if touches {
                ring_width(evidence, g)? * evidence.mm
            } else {
                width(g)
            };
            Some((width, evidence.place(g)))
        })
        .collect();
    let by_shape = known.is_empty() && evidence.text != Text::Known;
    let all = if by_shape {
        evidence
            .sure()
            .filter(|g| g.class == LetterClass::Short && is_round(g))
            .map(|g| (width(g), evidence.place(g)))
            .collect()
    } else {
        known
    };
    let all = without_strays(all, 0.05);
    let values = plain(&all);
    let middle = stats::median(&values)?;
    let spread = stats::deviation(&values).unwrap_or(0.0);
    let n = values.len() as f64;
    // Without the text an a or an e may have been taken for an o.
    // With joins its sides are not seen but taken to be one stroke wide.
    let ringed = if evidence.joined() { 0.045 } else { 0.002 };
    let doubt = if by_shape { 0.06 } else { ringed } * middle;
    let own = 0.3 * spread / n.sqrt() + spread * evidence.mistaken(values.len());
    let blurred = evidence.alike_px() * evidence.mm;
    let se = (square(evidence.length_se(middle, spread, values.len()))
        + square(own)
        + square(doubt)
        + square(blurred))
    .sqrt();
    Some(Unit {
        width: middle,
        se,
        spread,
        all,
    })
}

/// Whether a letter hangs together with the one before or behind it.
fn touching(glyphs: &[Glyph]) -> Vec<bool> {
    (0..glyphs.len())
        .map(|i| glyphs[i].touches_next || (i > 0 && glyphs[i - 1].touches_next))
        .collect()
}

/// Width in pixels of the ring of an o that carries joins: its inside and one stroke on each side.
fn ring_width(evidence: &Evidence<'_>, glyph: &Glyph) -> Option<f64> {
    let (left, right) = inside(&glyph.piece)?;
    // The mask is a little wider than the ink, and so is a stroke measured on it.
    Some(right - left + 2.0 * evidence.ink.pen - 0.8)
}

/// First and last column of the largest white that a piece of ink encloses.
fn inside(piece: &Piece) -> Option<(f64, f64)> {
    let (area, left, right) = piece.enclosed().into_iter().max_by_key(|patch| patch.0)?;
    (area > 6).then_some((f64::from(left), f64::from(right)))
}

/// Whether a letter is one closed ring about as wide as high.
fn is_round(glyph: &Glyph) -> bool {
    let b = glyph.piece.bounds();
    let aspect = b.width() / b.height();
    let middle = (b.x0 + b.x1) / 2;
    let rows = b.y0..b.y1;
    let split = rows
        .clone()
        .filter(|y| {
            let hit = glyph
                .piece
                .runs
                .iter()
                .any(|r| r.y == *y && (r.x0..r.x1).contains(&middle));
            !hit
        })
        .count() as f64;
    let sides = rows
        .filter(|y| glyph.piece.runs.iter().filter(|r| r.y == *y).count() == 2)
        .count() as f64;
    (0.65..1.3).contains(&aspect) && split > 0.4 * b.height() && sides > 0.45 * b.height()
}

type Gaps = Vec<(f64, BoxMm)>;

/// Whites between letters and between words, in millimetres.
fn whites(evidence: &Evidence<'_>) -> (Gaps, Gaps) {
    let (mut letters, mut words) = (Vec::new(), Vec::new());
    let joined = evidence.joined();
    for pair in evidence.glyphs.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        if a.line != b.line {
            continue;
        }
        let place = between(evidence, a, b);
        if a.touches_next && a.word == b.word && !joined && is_small(a) && is_small(b) {
            // Blur closes what is narrower than itself. Where letters that touch are not sure, that
            // they touch is.
            letters.push((0.5 * evidence.ink.blur * evidence.mm, place));
        }
        if a.confidence < SURE || b.confidence < SURE {
            continue;
        }
        if a.word != b.word {
            if !struck_between(evidence, a, b) {
                words.push((white(evidence, a, b), place));
            }
        } else if !a.touches_next && is_small(a) && is_small(b) {
            letters.push((white(evidence, a, b), place));
        }
    }
    (without_strays(letters, 0.05), without_strays(words, 0.2))
}

fn is_small(glyph: &Glyph) -> bool {
    match glyph.ch {
        Some(c) => c.is_lowercase(),
        None => glyph.class != LetterClass::Other,
    }
}

fn white(evidence: &Evidence<'_>, a: &Glyph, b: &Glyph) -> f64 {
    let along = evidence.along(a.line);
    // The mask is a little wider than the ink: what the edges say is given back to the white.
    let wider = |g: &Glyph| {
        let mask = g.piece.bounds();
        ((mask.width() - (g.edges.right - g.edges.left)) / 2.0).clamp(-1.0, 1.5)
    };
    (words::white(&a.piece, &b.piece, along) + wider(a) + wider(b)) * evidence.mm
}

fn struck_between(evidence: &Evidence<'_>, a: &Glyph, b: &Glyph) -> bool {
    evidence.corrections.iter().any(|Mended { bounds, .. }| {
        let (x0, x1) = (f64::from(bounds.x0), f64::from(bounds.x1));
        let row = (a.edges.top.1 + a.edges.bottom.1) / 2.0;
        let same = f64::from(bounds.y0) < row && row < f64::from(bounds.y1);
        same && x1 > a.edges.right - 2.0 && x0 < b.edges.left + 2.0
    })
}

fn between(evidence: &Evidence<'_>, a: &Glyph, b: &Glyph) -> BoxMm {
    let line = &evidence.lines[a.line];
    let x = (a.edges.right + b.edges.left) / 2.0;
    let base = evidence.level.on_sheet(x, line.base_at(x));
    let (left, right) = (
        a.edges.right.min(b.edges.left),
        a.edges.right.max(b.edges.left),
    );
    BoxMm {
        x0: Mm(left * evidence.mm),
        y0: Mm((base - line.x_height) * evidence.mm),
        x1: Mm(right * evidence.mm),
        y1: Mm(base * evidence.mm),
    }
}

/// `white`: what is not known of the white of all gaps alike, in millimetres; `mistaken`: what a mean
/// of them does not know, of their spread.
fn outcome(
    gaps: &Gaps,
    unit: Option<&Unit>,
    (white, mistaken): (f64, f64),
    why: WhyNot,
) -> (Outcome, Outcome) {
    let Some(unit) = unit else {
        return (missing(WhyNot::NoO), missing(WhyNot::NoO));
    };
    let all: Gaps = gaps.iter().map(|(g, b)| (g / unit.width, *b)).collect();
    let values = plain(&all);
    let (mean, spread) = match (stats::mean(&values), stats::deviation(&values)) {
        (Some(mean), Some(spread)) if values.len() >= LEAST && mean > 0.0 => (mean, spread),
        _ => return (missing(why), missing(why)),
    };
    let n = values.len() as f64;
    let relative = unit.se / unit.width;
    let edge = white / unit.width;
    let own = 0.15 * spread / n.sqrt() + mistaken * spread;
    let se = (own * own + square(relative * mean) + square(edge)).sqrt();
    let cv = spread / mean;
    // The spread of gaps is as sure as each of them is; their number matters little, for these are
    // the very gaps that were written.
    let uneven = 0.5 * edge;
    let cv_se = (square(0.04 * cv)
        + square(mistaken * cv)
        + square(uneven / mean)
        + square(cv * se / mean))
    .sqrt();
    let places = from_centre(&all, mean);
    (
        measured(mean, se, Some(spread), values.len(), places.clone()),
        measured(cv, cv_se, None, values.len(), places),
    )
}
