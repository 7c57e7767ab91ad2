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
use crate::ruling::Level;
use crate::text;
use crate::words::{self, Reach};

/// Where the letters of a page are, and where the engine saw them before they were moved.
pub(super) struct Places {
    /// For each letter its places, millimetres.
    known: Vec<Vec<BoxMm>>,
}

impl Places {
    fn of(glyphs: &[Glyph], mm: f64) -> Self {
        let place = |glyph: &Glyph| vec![glyph.piece.bounds().in_mm(mm)];
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
                let shared = places.iter().map(|place| place.overlap(at).0);
                (index, shared.fold(0.0, f64::max))
            });
        let best = shared.max_by(|a, b| a.1.total_cmp(&b.1));
        best.filter(|(_, shared)| *shared >= BoxMm::SAME_PLACE.0)
            .map(|best| best.0)
    }
}

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
                    places.known[index].push(glyph.piece.bounds().in_mm(mm));
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
        let sideways = (lost.columns.0 + lost.columns.1) / 2.0 - x;
        sideways.abs() + 2.0 * up_or_down(&found.lines[lost.line], &found.level, (x, y))
    };
    let lost = found.lost.iter().enumerate();
    let lost = lost.filter(|(_, lost)| {
        let near = Amendment::NEAR * found.lines[lost.line].x_height;
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
        let ink = glyph.piece.bounds().in_mm(mm);
        places.known.insert(here, vec![*at, *bounds, ink]);
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
        let along = found.along(a.line);
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
    let within = BoxPx::of_mm(bounds, mm);
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
    let along = found.along(line);
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
            Amendment::Letter { .. }
            | Amendment::Correction { .. }
            | Amendment::NotWriting { .. }
            | Amendment::Line { .. } => {}
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
        let there = |mended: &Mended| mended.bounds.in_mm(mm).is_same_place(at);
        found.corrections.retain(|mended| !there(mended));
        found.corrections.extend(kind.map(|kind| Mended {
            kind,
            bounds: BoxPx::of_mm(at, mm),
            by_hand: true,
        }));
    }
    let (lines, level) = (&found.lines, &found.level);
    found.corrections.sort_by_key(|mended| {
        let b = mended.bounds;
        let middle = (f64::from(b.x0 + b.x1) / 2.0, f64::from(b.y0 + b.y1) / 2.0);
        // The line that it stands nearest to.
        let away = |line: usize| up_or_down(&lines[line], level, middle);
        let line = (0..lines.len()).min_by(|a, b| away(*a).total_cmp(&away(*b)));
        (line, b.x0, b.y0)
    });
}

/// How far a place lies above or below the middle of a line's short letters, in pixels.
fn up_or_down(line: &TextLine, level: &Level, (x, y): (f64, f64)) -> f64 {
    (level.on_sheet(x, line.base_at(x) - line.x_height / 2.0) - y).abs()
}
