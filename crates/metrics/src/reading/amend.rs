//! What a person has put right, laid over what was found.
//!
//! An amendment names its letter by place and character; the letter of that character that lies there is
//! meant, whatever number it has in this reading.

use units::{Amendment, BoxMm, Fault, FaultKind};

use super::Found;
use super::text_fit;
use crate::aspects::{Evidence, Mended};
use crate::edges;
use crate::letters::formed::Formed;
use crate::letters::joins::Join;
use crate::letters::{Glyph, dot};
use crate::lines::TextLine;
use crate::pieces::{BoxPx, Piece, Run};
use crate::text;
use crate::words::{self, Along, Reach};

/// Two boxes that share less than this of what they cover together are not the same place.
const SAME: f64 = 0.3;

/// Where the letters of a page are, and where the engine saw them before they were moved.
pub(super) struct Places {
    /// For each letter its places, millimetres.
    known: Vec<Vec<[f64; 4]>>,
}

impl Places {
    fn of(glyphs: &[Glyph], mm: f64) -> Self {
        let place = |glyph: &Glyph| vec![in_mm(glyph.piece.bounds(), mm)];
        Self {
            known: glyphs.iter().map(place).collect(),
        }
    }

    /// The letter of that character that lies there, or lay there.
    fn find(&self, glyphs: &[Glyph], letter: char, at: &BoxMm) -> Option<usize> {
        let letters = glyphs.iter().zip(&self.known).enumerate();
        let shared = letters
            .filter(|(_, (glyph, _))| glyph.ch == Some(letter))
            .map(|(index, (_, places))| {
                let shared = places.iter().map(|place| overlap(place, at));
                (index, shared.fold(0.0, f64::max))
            });
        let best = shared.max_by(|a, b| a.1.total_cmp(&b.1));
        best.filter(|(_, shared)| *shared >= SAME)
            .map(|best| best.0)
    }
}

/// A letter that found no ink is meant where it would stand within so many x-heights.
const NEAR: f64 = 2.0;

/// Puts letters where a person says that they are.
pub(super) fn letters(found: &mut Found, amendments: &[Amendment], mm: f64) -> Places {
    let mut places = Places::of(&found.glyphs, mm);
    for amendment in amendments {
        let Amendment::Letter { at, letter, bounds } = amendment else {
            continue;
        };
        let known = places.find(&found.glyphs, *letter, at);
        match (known, bounds) {
            (Some(index), None) => {
                let glyph = &mut found.glyphs[index];
                (glyph.confidence, glyph.identity) = (0.0, 0.0);
                glyph.by_hand = true;
            }
            (Some(index), Some(bounds)) => {
                let old = &found.glyphs[index];
                let whose = (old.line, old.word, old.place);
                if let Some(glyph) = drawn(found, *letter, bounds, mm, whose) {
                    places.known[index].push(in_mm(glyph.piece.bounds(), mm));
                    found.glyphs[index] = glyph;
                    touch(found, index);
                }
            }
            (None, Some(bounds)) => add(found, &mut places, (*letter, at), bounds, mm),
            (None, None) => {}
        }
    }
    places
}

/// Adds a letter of the text that the engine found no ink for.
fn add(
    found: &mut Found,
    places: &mut Places,
    (letter, at): (char, &BoxMm),
    bounds: &BoxMm,
    mm: f64,
) {
    let middle = |b: &BoxMm| ((b.x0.0 + b.x1.0) / 2.0 / mm, (b.y0.0 + b.y1.0) / 2.0 / mm);
    let (x, y) = middle(at);
    let away = |lost: &text_fit::Lost| {
        let line = &found.lines[lost.line];
        let row = found
            .level
            .on_sheet(x, line.base_at(x) - line.x_height / 2.0);
        let sideways = (lost.columns.0 + lost.columns.1) / 2.0 - x;
        sideways.abs() + 2.0 * (row - y).abs()
    };
    let lost = found.lost.iter().enumerate();
    let lost = lost.filter(|(_, lost)| {
        let near = NEAR * found.lines[lost.line].x_height;
        lost.letter == letter && away(lost) <= near
    });
    let Some((index, lost)) = lost.min_by(|a, b| away(a.1).total_cmp(&away(b.1))) else {
        return;
    };
    let lost = *lost;
    // It belongs to the word of its neighbour in the text.
    let of_line = found.glyphs.iter().filter(|g| g.line == lost.line);
    let neighbour = of_line.min_by_key(|g| g.place.abs_diff(lost.place));
    let Some(word) = neighbour.map(|g| g.word) else {
        return;
    };
    if let Some(glyph) = drawn(found, letter, bounds, mm, (lost.line, word, lost.place)) {
        let before = |g: &Glyph| (g.line, g.place) < (lost.line, lost.place);
        let here = found.glyphs.partition_point(before);
        let told = [*at, *bounds].map(|b| [b.x0.0, b.y0.0, b.x1.0, b.y1.0]);
        let ink = in_mm(glyph.piece.bounds(), mm);
        places.known.insert(here, vec![told[0], told[1], ink]);
        found.glyphs.insert(here, glyph);
        found.lost.remove(index);
        touch(found, here);
    }
}

/// Sees anew whether a letter that was moved, and the one before it, run on into the next of their word.
fn touch(found: &mut Found, index: usize) {
    /// No more white than this, in pixels, lies between strokes that touch.
    const NONE: f64 = 1.0;
    for left in index.saturating_sub(1)..=index {
        let [a, b] = match found.glyphs.get(left..left + 2) {
            Some([a, b]) => [a, b],
            _ => continue,
        };
        let along = Along {
            line: &found.lines[a.line],
            level: &found.level,
            lean: found.lean,
        };
        let neighbours = (a.line, a.word) == (b.line, b.word);
        let touches = neighbours && words::white(&a.piece, &b.piece, along) <= NONE;
        found.glyphs[left].touches_next = touches;
    }
}

/// The letter that the ink within a box is; `None` where there is none.
fn drawn(
    found: &Found,
    letter: char,
    bounds: &BoxMm,
    mm: f64,
    (line, word, place): (usize, usize, usize),
) -> Option<Glyph> {
    let px = |length: f64| (length / mm).max(0.0);
    let within = BoxPx {
        x0: px(bounds.x0.0).round() as u32,
        y0: px(bounds.y0.0).round() as u32,
        x1: px(bounds.x1.0).round() as u32,
        y1: px(bounds.y1.0).round() as u32,
    };
    let runs = found.pieces.iter().flat_map(|piece| &piece.runs);
    let inside = runs.filter(|run| (within.y0..within.y1).contains(&run.y));
    let clipped = inside.map(|run| Run {
        y: run.y,
        x0: run.x0.max(within.x0),
        x1: run.x1.min(within.x1),
    });
    let mut runs: Vec<Run> = clipped.filter(|run| run.x0 < run.x1).collect();
    runs.sort_by_key(|run| (run.y, run.x0));
    let mut piece = Piece { runs };
    if piece.runs.is_empty() {
        return None;
    }
    let along = Along {
        line: &found.lines[line],
        level: &found.level,
        lean: found.lean,
    };
    let mut dots = Vec::new();
    if dot::dotted(letter)
        && let Some((body, dot)) = dot::part(&piece, along)
    {
        piece = body;
        dots.push(dot);
    }
    Some(Glyph {
        line,
        word,
        place,
        ch: Some(letter),
        class: text::class_of(letter),
        confidence: 1.0,
        identity: 1.0,
        reach: Reach::of(&piece, along),
        edges: edges::read(&found.ink, &piece),
        touches_next: false,
        piece,
        dots,
        by_hand: true,
    })
}

/// Lays verdicts about form and joins over those of the engine.
pub(super) fn verdicts(
    evidence: &Evidence<'_>,
    formed: &mut [Formed],
    joins: &mut [Join],
    (places, amendments): (&Places, &[Amendment]),
) {
    let find = |at: &BoxMm, letter: char| {
        let found = places.find(evidence.glyphs, letter, at);
        // What a person said is no letter has no form and no join.
        found.filter(|index| evidence.glyphs[*index].identity > 0.0)
    };
    for amendment in amendments {
        match amendment {
            Amendment::Fault {
                at,
                letter,
                fault,
                there,
            } => {
                if let Some(index) = find(at, *letter) {
                    set_fault(&mut formed[index], *fault, *there);
                }
            }
            Amendment::Reads {
                at,
                letter,
                as_meant,
            } => {
                if let Some(index) = find(at, *letter) {
                    set_fault(&mut formed[index], FaultKind::ReadsAsOther, !as_meant);
                }
            }
            Amendment::Join {
                at,
                letter,
                verdict,
            } => {
                let left = find(at, *letter);
                if let Some(join) = joins.iter_mut().find(|join| Some(join.left) == left) {
                    join.verdict = *verdict;
                    join.by_hand = true;
                }
            }
            Amendment::Letter { .. } | Amendment::Correction { .. } => {}
        }
    }
}

fn set_fault(formed: &mut Formed, kind: FaultKind, there: bool) {
    let known = formed
        .faults
        .iter()
        .find(|fault| fault.kind == kind)
        .copied();
    formed.faults.retain(|fault| fault.kind != kind);
    if there {
        // A person sees it and gives no figure.
        let seen = Fault { kind, figure: None };
        formed.faults.push(known.unwrap_or(seen));
    }
    if kind == FaultKind::Open
        && let Some(bowl) = &mut formed.bowl
    {
        bowl.open = there;
    }
    formed.judged = true;
    formed.by_hand = true;
}

/// Adds corrections that were missed, and takes out what is none.
pub(super) fn corrections(found: &mut Found, amendments: &[Amendment], mm: f64) {
    for amendment in amendments {
        let Amendment::Correction { at, kind } = amendment else {
            continue;
        };
        let there = |mended: &Mended| overlap(&in_mm(mended.bounds, mm), at) >= SAME;
        found.corrections.retain(|mended| !there(mended));
        if let Some(kind) = kind {
            let px = |length: f64| (length / mm).max(0.0).round() as u32;
            let bounds = BoxPx {
                x0: px(at.x0.0),
                y0: px(at.y0.0),
                x1: px(at.x1.0),
                y1: px(at.y1.0),
            };
            found.corrections.push(Mended {
                kind: *kind,
                bounds,
                by_hand: true,
            });
        }
    }
    found.corrections.sort_by_key(|mended| {
        let b = mended.bounds;
        let middle = f64::from(b.x0 + b.x1) / 2.0;
        let row = (f64::from(b.y0 + b.y1)) / 2.0;
        // The line that it stands nearest to.
        let line = found
            .lines
            .iter()
            .enumerate()
            .min_by(|(_, one), (_, other)| {
                let away = |line: &TextLine| {
                    (found
                        .level
                        .on_sheet(middle, line.base_at(middle) - line.x_height / 2.0)
                        - row)
                        .abs()
                };
                away(one).total_cmp(&away(other))
            });
        (line.map(|(index, _)| index), b.x0, b.y0)
    });
}

fn in_mm(b: BoxPx, mm: f64) -> [f64; 4] {
    [b.x0, b.y0, b.x1, b.y1].map(|v| f64::from(v) * mm)
}

/// What two boxes share over what they cover together.
fn overlap(a: &[f64; 4], b: &BoxMm) -> f64 {
    let b = [b.x0.0, b.y0.0, b.x1.0, b.y1.0];
    let side = |low: usize, high: usize| (a[high].min(b[high]) - a[low].max(b[low])).max(0.0);
    let shared = side(0, 2) * side(1, 3);
    let area = |v: &[f64; 4]| (v[2] - v[0]) * (v[3] - v[1]);
    shared / (area(a) + area(&b) - shared).max(1e-9)
}
