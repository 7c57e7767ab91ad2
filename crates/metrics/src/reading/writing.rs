//! Lines → words, letters and corrections, in three rounds that learn the hand.

use units::{CorrectionKind, Expectation};

use super::Found;
use super::text_fit::Lost;
use crate::aspects::{self, Mended, Text};
use crate::letters::written_over::written_over;
use crate::letters::{self, Glyph, Hand, LineLetters, WordInk};
use crate::lines::TextLine;
use crate::pieces::BoxPx;
use crate::ruling::{Level, Rule};
use crate::stats;
use crate::text::{self, Shapes};
use crate::words::{self, Along, Struck};

/// Blobs, crossings-out, words and letters of every line.
#[tracing::instrument(level = "trace", name = "words and letters", skip_all)]
pub(super) fn read(found: &mut Found, expect: &Expectation) {
    found.lean = words::usual_lean(&found.lines, &found.level);
    let mut shapes = Shapes::general();
    let mut read: Vec<LineLetters> = Vec::new();
    let joined = expect.model.is_joined();
    // What is left of a printed line can pass for a stroke; a known text knows better.
    let printed: Vec<f64> = match expect.text {
        Some(_) => Vec::new(),
        None => found.rulings.across.iter().map(Rule::middle).collect(),
    };
    for round in 0..3 {
        let along = |line| Along {
            line,
            level: &found.level,
            lean: found.lean,
        };
        found.blobs = found
            .lines
            .iter()
            .map(|l| words::blobs(along(l), found.ink.pen, &printed))
            .collect();
        let widths: Vec<f64> = found
            .lines
            .iter()
            .zip(&found.blobs)
            .map(|(l, b)| letters::written_width(b, l.x_height))
            .collect();
        let texts = match &expect.text {
            Some(text) => text::match_lines(text, &widths),
            None => vec![None; widths.len()],
        };
        found.text = match (&expect.text, texts.iter().any(Option::is_some)) {
            (_, true) => Text::Known,
            (Some(text), _) if text::letters(text) > 0 => Text::Misfit,
            _ => Text::Unknown,
        };
        let gaps: Vec<f64> = found
            .lines
            .iter()
            .zip(&found.blobs)
            .flat_map(|(l, b)| letters::gaps(along(l), b))
            .collect();
        let spaces: usize = texts
            .iter()
            .flatten()
            .map(|t| t.iter().filter(|c| **c == ' ').count())
            .sum();
        let known = texts.iter().all(Option::is_some).then_some(spaces);
        let hand = Hand {
            ink: &found.ink,
            shapes: &shapes,
            limit: words::word_gap_limit(&gaps, known),
            joined,
        };
        read = found
            .lines
            .iter()
            .zip(&found.blobs)
            .zip(&texts)
            .enumerate()
            .map(|(i, ((line, blobs), text))| match text {
                Some(text) => letters::with_text(i, along(line), blobs, text, hand),
                None => letters::by_shape(i, along(line), blobs, hand),
            })
            .collect();
        if round < 2 {
            let x_heights: Vec<f64> = found.lines.iter().map(|l| l.x_height).collect();
            letters::learn(&mut shapes, &read, &x_heights);
            settle(&mut found.lines, &read, &found.level);
        }
    }
    for (index, line) in read.into_iter().enumerate() {
        let before = found.words.len();
        let lost = line.lost.into_iter();
        found.lost.extend(lost.map(|(place, letter, columns)| Lost {
            line: index,
            letter,
            place,
            columns,
        }));
        found.extra.extend(line.extra);
        found.words.extend(line.words);
        found.glyphs.extend(line.glyphs.into_iter().map(|mut g| {
            g.word += before;
            g
        }));
    }
    found.corrections = corrections(&found.words, &found.glyphs);
}

/// Moves every line's baseline and height to where its letters are.
fn settle(lines: &mut [TextLine], read: &[LineLetters], level: &Level) {
    let mut heights_of_page = Vec::new();
    for (line, letters) in lines.iter_mut().zip(read) {
        let sure: Vec<&Glyph> = letters
            .glyphs
            .iter()
            .filter(|g| g.confidence >= 0.4)
            .collect();
        let feet: Vec<(f64, f64)> = sure
            .iter()
            .filter(|g| aspects::stands(g))
            .map(|g| {
                let foot = level.row(g.edges.bottom.0, g.edges.bottom.1);
                ((g.edges.left + g.edges.right) / 2.0, foot)
            })
            .collect();
        if feet.len() >= 4
            && let Some((slope, rest)) = stats::theil_sen(&feet)
            && slope.abs() < 0.1
        {
            line.slope = slope;
            line.base = rest + slope * line.middle;
        }
        let heights: Vec<f64> = sure
            .iter()
            .filter(|g| g.class == units::LetterClass::Short)
            .map(|g| g.edges.bottom.1 - g.edges.top.1)
            .collect();
        if let Some(height) = stats::median(&heights).filter(|_| heights.len() >= 4) {
            line.x_height = height;
            heights_of_page.push(height);
        }
    }
    // A line with few letters takes the page's height rather than a chance one.
    if let Some(usual) = stats::median(&heights_of_page) {
        for line in lines {
            if !(0.75..1.33).contains(&(line.x_height / usual)) {
                line.x_height = usual;
            }
        }
    }
}

/// Corrections, top to bottom and left to right.
fn corrections(words: &[WordInk], glyphs: &[Glyph]) -> Vec<Mended> {
    let struck = words.iter().filter_map(|word| {
        let kind = match word.struck? {
            Struck::Once => CorrectionKind::StruckOnce,
            Struck::ManyTimes => CorrectionKind::StruckManyTimes,
            Struck::Bracketed => CorrectionKind::Bracketed,
        };
        Some((word.line, kind, word.piece.bounds()))
    });
    let over = written_over(glyphs).into_iter().map(|i| {
        let bounds = glyphs[i].piece.bounds();
        (glyphs[i].line, CorrectionKind::WrittenOver, bounds)
    });
    let mut all: Vec<(usize, CorrectionKind, BoxPx)> = struck.chain(over).collect();
    all.sort_by_key(|(line, _, b)| (*line, b.x0, b.y0));
    let mended = |(_, kind, bounds)| Mended {
        kind,
        bounds,
        by_hand: false,
    };
    all.into_iter().map(mended).collect()
}
