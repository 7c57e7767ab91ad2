//! A d in two parts, a round one and a tall one, that reads as c and l.

use super::Of;
use crate::pieces::Piece;
use crate::words::{self, Reach};

/// White between the parts, at least, in x-heights: less is a stroke that broke in the mask.
const LEAST: f64 = 0.02;
/// … and at most: what stands further off belongs to no d.
const MOST: f64 = 0.3;
/// The round part is no higher than this, in x-heights, …
const ROUND: f64 = 1.25;
/// … and at least so wide.
const WIDE: f64 = 0.3;

/// White between the round and the tall part of a d, in x-heights; `None` where they hang together.
pub(super) fn look(of: Of<'_>) -> Option<f64> {
    if of.ch != 'd' {
        return None;
    }
    let along = of.evidence.along(of.glyph.line);
    let speck = 0.5 * of.x_height * of.evidence.ink.pen;
    let mut parts: Vec<(Reach, Piece)> = of
        .glyph
        .piece
        .parts()
        .into_iter()
        .filter(|part| part.area() as f64 > speck)
        .map(|part| (Reach::of(&part, along), part))
        .collect();
    parts.sort_by(|a, b| a.0.left.total_cmp(&b.0.left));
    let [(round, left), (tall, right)] = &parts[..] else {
        return None;
    };
    let shapes = round.high < ROUND * of.x_height
        && round.width() > WIDE * of.x_height
        && tall.high > round.high
        && tall.width() < round.width();
    let white = words::white(left, right, along) / of.x_height;
    (shapes && (LEAST..MOST).contains(&white)).then_some(white)
}
