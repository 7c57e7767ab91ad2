//! Blobs + known text → letters. Where the text is not known, every blob that has a letter's size
//! stands for one.

use core::iter::once;

use units::LetterClass;

use crate::edges::{self, Edges};
use crate::ink::Ink;
use crate::letters::align::Hit;
use crate::letters::atoms::Atom;
use crate::pieces::Piece;
use crate::text::{self, Shape, Shapes};
use crate::words::{self, Along, Blob, Reach, Struck};

pub(crate) mod align;
pub(crate) mod atoms;
pub(crate) mod bowl;
mod darkness;
pub(crate) mod dot;
pub(crate) mod formed;
pub(crate) mod joins;
mod left_over;
pub(crate) mod written_over;

/// A letter as found.
#[derive(Debug, Clone)]
pub(crate) struct Glyph {
    pub line: usize,
    pub word: usize,
    /// Which of its line's characters it is.
    pub place: usize,
    pub ch: Option<char>,
    pub class: LetterClass,
    /// How sure it is that this ink is the letter and looks it, 0 to 1: measures count it by this.
    pub confidence: f64,
    /// How sure it is that this ink is the letter, well formed or not.
    pub identity: f64,
    /// Its ink, dots left out.
    pub piece: Piece,
    pub dots: Vec<Piece>,
    pub reach: Reach,
    pub edges: Edges,
    /// Whether ink runs on into the next letter.
    pub touches_next: bool,
    /// Whether a person said where it is.
    pub by_hand: bool,
}

/// A word as found.
#[derive(Debug, Clone)]
pub(crate) struct WordInk {
    pub line: usize,
    pub text: Option<String>,
    pub struck: Option<Struck>,
    /// All its ink, dots included.
    pub piece: Piece,
}

/// What is read of one line.
#[derive(Debug, Clone, Default)]
pub(crate) struct LineLetters {
    pub words: Vec<WordInk>,
    pub glyphs: Vec<Glyph>,
    /// Letters of the text without ink: which of its line's characters, and between which columns.
    pub lost: Vec<(usize, char, (f64, f64))>,
    /// Ink beyond the text's that may be letters.
    pub extra: Vec<Piece>,
}

/// What every line of a page shares.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hand<'a> {
    pub ink: &'a Ink,
    pub shapes: &'a Shapes,
    /// Gap in x-heights that parts words.
    pub limit: f64,
    pub joined: bool,
}

/// Reads one line whose text is known.
#[tracing::instrument(level = "trace", name = "with text", skip_all)]
pub(crate) fn with_text(
    index: usize,
    along: Along<'_>,
    blobs: &[Blob],
    text: &[char],
    hand: Hand<'_>,
) -> LineLetters {
    let atoms = atoms::atoms(along, blobs, hand);
    let found = align::align(&atoms, text, along.line.x_height, hand);
    let mut out = LineLetters::default();
    let mut letters = Vec::new();
    let mut word = 0;
    let mut spelled: Vec<String> = vec![String::new()];
    for (at, c) in text.iter().enumerate() {
        if *c == ' ' {
            word += 1;
            spelled.push(String::new());
            continue;
        }
        spelled[word].push(*c);
        if let Some(hit) = found[at] {
            letters.push((word, at, hit));
        }
    }
    let mut kept: Vec<Option<usize>> = vec![None; spelled.len()];
    let mut inked: Vec<Vec<&Piece>> = Vec::new();
    for (k, (word, at, hit)) in letters.iter().enumerate() {
        let c = text[*at];
        let inside = &atoms[hit.first..hit.end];
        let mut piece = Piece::union(inside.iter().map(|a| &a.piece));
        let mut dots: Vec<Piece> = inside.iter().flat_map(|a| a.dots.iter().cloned()).collect();
        if dot::dotted(c)
            && dots.is_empty()
            && let Some((body, dot)) = dot::part(&piece, along)
        {
            piece = body;
            dots.push(dot);
        }
        let slot = *kept[*word].get_or_insert_with(|| {
            out.words.push(WordInk {
                line: index,
                text: Some(spelled[*word].clone()),
                struck: None,
                piece: Piece::default(),
            });
            inked.push(Vec::new());
            out.words.len() - 1
        });
        inked[slot].extend(inside.iter().flat_map(|a| once(&a.piece).chain(&a.dots)));
        let next = letters.get(k + 1).filter(|n| n.0 == *word);
        let touches_next = next.is_some_and(|n| {
            atoms[n.2.first].blob == inside[inside.len() - 1].blob && n.2.first >= hit.end
        });
        out.glyphs.push(Glyph {
            line: index,
            word: slot,
            place: *at,
            ch: Some(c),
            class: text::class_of(c),
            confidence: hit.confidence,
            identity: hit.identity,
            reach: Reach::of(&piece, along),
            edges: edges::read(hand.ink, &piece),
            piece,
            dots,
            touches_next,
            by_hand: false,
        });
    }
    join_words(&mut out.words, inked);
    out.lost = lost(along, text, &found, &atoms);
    let used: Vec<bool> = used(&atoms, &found);
    out.extra = left_over::letters(along, blobs, (&atoms, &used));
    out.words
        .extend(left_over::words(index, along, blobs, (&atoms, &used), hand));
    out
}

/// Letters of the text that found no ink, each with the columns between its neighbours' inks.
fn lost(
    along: Along<'_>,
    text: &[char],
    found: &[Option<Hit>],
    atoms: &Atoms,
) -> Vec<(usize, char, (f64, f64))> {
    let column = |u: f64| u + along.lean * along.line.x_height / 2.0;
    // At a line's end there is as much room as a letter takes.
    let room = along.line.x_height;
    let mut left: Option<f64> = None;
    let mut out: Vec<(usize, char, (f64, f64))> = Vec::new();
    // Letters before the next one found still lack their right side.
    let mut open = 0;
    for (at, (c, hit)) in text.iter().zip(found).enumerate() {
        match hit {
            Some(hit) => {
                let right = column(atoms[hit.first].reach.left);
                let between = (left.unwrap_or(right - room), right);
                divide(&mut out[open..], between);
                open = out.len();
                left = Some(column(atoms[hit.end - 1].reach.right));
            }
            None if *c != ' ' => out.push((at, *c, (0.0, 0.0))),
            None => {}
        }
    }
    let after = out.len() - open;
    let from = left.unwrap_or(0.0);
    divide(&mut out[open..], (from, from + room * after as f64));
    out
}

/// Gives letters that stand side by side an equal share of the room each.
fn divide(letters: &mut [(usize, char, (f64, f64))], (left, right): (f64, f64)) {
    let each = (right - left) / (letters.len() as f64).max(1.0);
    for (k, (_, _, columns)) in letters.iter_mut().enumerate() {
        let start = left + each * k as f64;
        *columns = (start, start + each);
    }
}

/// Which atoms are part of a letter.
fn used(atoms: &Atoms, found: &[Option<Hit>]) -> Vec<bool> {
    let mut used = vec![false; atoms.len()];
    for hit in found.iter().flatten() {
        used[hit.first..hit.end].fill(true);
    }
    used
}

/// Reads one line without its text.
#[tracing::instrument(level = "trace", name = "by shape", skip_all)]
pub(crate) fn by_shape(
    index: usize,
    along: Along<'_>,
    blobs: &[Blob],
    hand: Hand<'_>,
) -> LineLetters {
    let mut out = LineLetters::default();
    let mut inked: Vec<Vec<&Piece>> = Vec::new();
    let mut last: Option<&Blob> = None;
    for blob in blobs.iter().filter(|b| b.struck.is_none()) {
        let gap = last.map_or(f64::MAX, |l| {
            words::white(&l.piece, &blob.piece, along) / along.line.x_height
        });
        if out.words.is_empty() || gap > hand.limit {
            out.words.push(WordInk {
                line: index,
                text: None,
                struck: None,
                piece: Piece::default(),
            });
            inked.push(Vec::new());
        }
        last = Some(blob);
        let slot = out.words.len() - 1;
        inked[slot].extend(once(&blob.piece).chain(&blob.dots));
        let (class, confidence) = class_by_shape(blob.reach, along.line.x_height, hand.joined);
        out.glyphs.push(Glyph {
            line: index,
            word: slot,
            place: out.glyphs.len(),
            ch: None,
            class,
            confidence,
            identity: confidence,
            reach: blob.reach,
            edges: edges::read(hand.ink, &blob.piece),
            piece: blob.piece.clone(),
            dots: blob.dots.clone(),
            touches_next: false,
            by_hand: false,
        });
    }
    join_words(&mut out.words, inked);
    add_struck(&mut out, index, blobs);
    out
}

/// Gives every word its ink, at once: adding a letter at a time would copy a long word for each.
fn join_words(words: &mut [WordInk], inked: Vec<Vec<&Piece>>) {
    for (word, inked) in words.iter_mut().zip(inked) {
        word.piece = Piece::union(inked.into_iter());
    }
}

fn add_struck(out: &mut LineLetters, line: usize, blobs: &[Blob]) {
    for blob in blobs.iter().filter(|b| b.struck.is_some()) {
        out.words.push(WordInk {
            line,
            text: None,
            struck: blob.struck,
            piece: Piece::union([&blob.piece].into_iter().chain(&blob.dots)),
        });
    }
}

/// Height class of a blob, and how far it can be trusted to be one letter.
fn class_by_shape(reach: Reach, x_height: f64, joined: bool) -> (LetterClass, f64) {
    let (high, low) = (reach.high / x_height, -reach.low / x_height);
    let width = reach.width() / x_height;
    let one = if joined { 1.3 } else { 1.55 };
    let class = match (high, low) {
        _ if width > one || high < 0.6 => LetterClass::Other,
        (h, l) if h < 1.22 && l < 0.22 => LetterClass::Short,
        (h, l) if h > 1.3 && l < 0.22 => LetterClass::Tall,
        (h, l) if h < 1.25 && l > 0.28 => LetterClass::Tail,
        _ => LetterClass::Other,
    };
    let sure = if class == LetterClass::Other {
        0.2
    } else {
        0.7
    };
    (class, sure)
}

/// Sharpens the expected shapes by the letters found.
pub(crate) fn learn(shapes: &mut Shapes, lines: &[LineLetters], x_heights: &[f64]) {
    let mut chars: Vec<char> = lines
        .iter()
        .flat_map(|l| l.glyphs.iter().filter_map(|g| g.ch))
        .collect();
    chars.sort_unstable();
    chars.dedup();
    for c in chars {
        let seen: Vec<Shape> = lines
            .iter()
            .flat_map(|l| &l.glyphs)
            .filter(|g| g.ch == Some(c) && g.confidence > 0.3)
            .map(|g| {
                let unit = x_heights[g.line];
                Shape {
                    width: g.reach.width() / unit,
                    high: g.reach.high / unit,
                    low: -g.reach.low / unit,
                    slack: 0.0,
                }
            })
            .collect();
        shapes.learn(c, &seen);
    }
}

/// Gaps between neighbouring blobs of a line that are not crossed out, in x-heights.
pub(crate) fn gaps(along: Along<'_>, blobs: &[Blob]) -> Vec<f64> {
    blobs
        .windows(2)
        .filter(|pair| pair.iter().all(|b| b.struck.is_none()))
        .map(|pair| words::white(&pair[0].piece, &pair[1].piece, along) / along.line.x_height)
        .collect()
}

/// Width of a line's unstruck writing, in x-heights.
pub(crate) fn written_width(blobs: &[Blob], x_height: f64) -> f64 {
    let (mut first, mut last, mut struck) = (f64::MAX, f64::MIN, 0.0);
    for blob in blobs {
        first = first.min(blob.reach.left);
        last = last.max(blob.reach.right);
        if blob.struck.is_some() {
            struck += blob.reach.width() + 1.2 * x_height;
        }
    }
    ((last - first - struck) / x_height).max(0.0)
}

/// A line's ink, cut.
pub(crate) type Atoms = Vec<Atom>;
