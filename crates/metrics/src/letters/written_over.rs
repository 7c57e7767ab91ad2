//! Letters written over: more ink for their size than letters have.

use std::collections::BTreeMap;

use units::LetterClass;

use crate::letters::Glyph;
use crate::maths::ln;
use crate::stats;

/// How much more ink is enough: the logarithms of the ratios to the page's letters and to those of the
/// same kind, added.
const ENOUGH: f64 = 0.62;
/// How many times the usual difference between letters of a kind is far.
const FAR: f64 = 4.0;
/// What a kind's middle is taken from.
const SURE: f64 = 0.5;
/// A letter of which the place is not even so sure is not judged.
const FAIRLY_SURE: f64 = 0.25;
/// Letters of a kind that say what is usual.
const LEAST: usize = 3;

/// Letters written over. A letter's ink for its size is held against all letters of the page and
/// against the writer's other letters of its kind, in the units of how much letters differ here.
pub(crate) fn written_over(glyphs: &[Glyph]) -> Vec<usize> {
    let inked: Vec<f64> = glyphs.iter().map(inked).collect();
    let of = |pick: &dyn Fn(&Glyph) -> bool| -> Vec<f64> {
        let those = glyphs.iter().zip(&inked);
        those.filter(|(g, _)| pick(g)).map(|(_, v)| *v).collect()
    };
    let Some(usual) = stats::median(&of(&|g| g.confidence >= SURE && is_short(g))) else {
        return Vec::new();
    };
    let kinds: BTreeMap<char, f64> = glyphs
        .iter()
        .filter_map(|g| g.ch)
        .filter_map(|c| {
            let alike = of(&|o| o.ch == Some(c) && o.confidence >= SURE);
            let middle = stats::median(&alike)?;
            (alike.len() >= LEAST).then_some((c, middle))
        })
        .collect();
    let of_kind = |i: usize| Some(ln(inked[i] / kinds.get(&glyphs[i].ch?)?));
    let apart: Vec<f64> = (0..glyphs.len())
        .filter(|&i| glyphs[i].confidence >= SURE && is_short(&glyphs[i]))
        .filter_map(of_kind)
        .collect();
    let differ = stats::mad(&apart).unwrap_or(0.1).max(0.02);
    (0..glyphs.len())
        .filter(|&i| glyphs[i].ch.is_some() && is_short(&glyphs[i]))
        .filter(|&i| glyphs[i].confidence >= FAIRLY_SURE)
        .filter(|&i| {
            let of_page = ln(inked[i] / usual);
            // A kind that is too rare to compare has to stand out of the whole page.
            let of_kind = of_kind(i).unwrap_or(of_page - 0.1);
            of_kind > FAR * differ && of_page > 2.0 * differ && of_page + of_kind > ENOUGH
        })
        .filter(|&i| !is_filled_in(&glyphs[i], glyphs))
        .collect()
}

fn is_short(glyph: &Glyph) -> bool {
    glyph.class == LetterClass::Short && glyph.ch != Some('i')
}

/// Whether a letter's ink is only its bowl run full: the others of its kind have white inside, it has
/// not, and white and ink together are no more than theirs.
fn is_filled_in(glyph: &Glyph, glyphs: &[Glyph]) -> bool {
    const MORE: f64 = 1.1;
    let parts = |g: &Glyph| {
        let b = g.piece.bounds();
        let white: u64 = g.piece.enclosed().iter().map(|patch| patch.0).sum();
        let whole = (g.piece.area() + white) as f64;
        (
            white as f64 / whole,
            whole / (b.width() * b.height()).max(1.0),
        )
    };
    let alike = glyphs
        .iter()
        .filter(|o| o.ch == glyph.ch && o.confidence >= 0.5);
    let (white, whole): (Vec<f64>, Vec<f64>) = alike.map(parts).unzip();
    let (Some(usual_white), Some(usual_whole)) = (stats::median(&white), stats::median(&whole))
    else {
        return false;
    };
    let own = parts(glyph);
    own.0 < 0.4 * usual_white && own.1 < MORE * usual_whole
}

/// Ink over half the way round the letter's box.
fn inked(glyph: &Glyph) -> f64 {
    let b = glyph.piece.bounds();
    glyph.piece.area() as f64 / (b.width() + b.height()).max(1.0)
}

#[cfg(test)]
mod tests;
