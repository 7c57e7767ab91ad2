//! A hand that writes: text in, letters in millimetres of the sheet out.

mod warp;

use units::{BoxMm, CorrectionKind};

use crate::font::Fonts;
use crate::hand::Hand;
use crate::mistakes::{self, Fate, Token};
use crate::outline::{Outline, bounds, union};
use crate::paper::Sheet;
use crate::rng::Rng;
use crate::writing::{Writing, WrittenCorrection, WrittenLetter, WrittenLine, WrittenWord};

/// Writes a text onto a sheet; `\n` begins a new line. What finds no room is left out and counted.
pub fn write(fonts: &Fonts, text: &str, sheet: &Sheet, hand: &Hand, seed: u64) -> Writing {
    let mut pen = Writer {
        fonts,
        sheet,
        hand,
        rng: Rng::new(seed, "writing"),
        o: o_shape(fonts, hand),
        done: Writing::default(),
        cursor: f64::NAN,
        phases: [0.0; 6],
        origin: 0.0,
    };
    let mut plan = Rng::new(seed, "mistakes");
    'page: for paragraph in text.split('\n') {
        if !pen.new_line() {
            pen.done.left_over += paragraph.split_whitespace().count();
            continue;
        }
        let tokens = mistakes::plan(paragraph, hand, &mut plan);
        for (index, token) in tokens.iter().enumerate() {
            if !pen.word(token) {
                pen.done.left_over += tokens.len() - index;
                continue 'page;
            }
        }
    }
    pen.done
}

/// Width of the o and thickness of its stroke, in heights of a short letter.
struct OShape {
    width: f64,
    stroke: f64,
}

fn o_shape(fonts: &Fonts, hand: &Hand) -> OShape {
    let outline = fonts
        .shape(hand.shapes, "o")
        .pop()
        .map(|glyph| glyph.outline)
        .unwrap_or_default();
    let width = bounds(&outline).map_or(1.0, |found| found.x1.0 - found.x0.0);
    let row = crate::outline::crossings(&outline, 0.5);
    let stroke = row.get(1).map_or(0.15, |second| second - row[0]);
    OShape {
        width: width * hand.width,
        stroke: stroke.clamp(0.08, 0.3),
    }
}

struct Writer<'a> {
    fonts: &'a Fonts,
    sheet: &'a Sheet,
    hand: &'a Hand,
    rng: Rng,
    o: OShape,
    done: Writing,
    /// Right end of the ink on the current line; NaN at its start.
    cursor: f64,
    /// Phases of the wobble: new for each letter, or for each word where letters are joined.
    phases: [f64; 6],
    /// Start of the current letter in its word, in heights of a short letter.
    origin: f64,
}

impl Writer<'_> {
    fn new_line(&mut self) -> bool {
        let index = self.done.lines.len();
        let Some(rule) = self.sheet.written_lines(self.hand.x_height).nth(index) else {
            return false;
        };
        let (left, _) = self.sheet.room();
        let sway = if self.sheet.rules().is_empty() {
            self.rng.normal() * 0.5
        } else {
            0.0
        };
        let line = WrittenLine {
            rule: rule + sway,
            left: left + self.rng.between(0.0, 1.6),
            offset: self.hand.offset + self.rng.normal() * self.hand.bob * 0.5,
            slope: libm::tan(
                (self.hand.drift + self.rng.normal() * self.hand.drift_sd).to_radians(),
            ),
            slant: self.hand.slant + self.rng.normal() * self.hand.slant_sd * 0.25,
        };
        self.done.lines.push(line);
        self.cursor = f64::NAN;
        true
    }

    fn o_mm(&self) -> f64 {
        self.o.width * self.hand.x_height
    }

    /// Writes one word, on the next line if this one is full; false where the page is full.
    fn word(&mut self, token: &Token) -> bool {
        let bracket = token.fate == Fate::Struck(CorrectionKind::Bracketed);
        let room = if bracket {
            0.45 * self.hand.x_height
        } else {
            0.0
        };
        let mut letters = self.place(&token.text, room);
        let reach = |letters: &[WrittenLetter]| {
            let right = letters
                .iter()
                .filter_map(WrittenLetter::bounds)
                .map(|b| b.x1.0);
            right.fold(f64::NEG_INFINITY, f64::max) + room
        };
        if reach(&letters) > self.sheet.room().1 && !self.cursor.is_nan() {
            if !self.new_line() {
                return false;
            }
            letters = self.place(&token.text, room);
        }
        if letters.is_empty() {
            return true;
        }
        self.cursor = reach(&letters);
        let struck = match token.fate {
            Fate::Struck(kind) => Some(kind),
            _ => None,
        };
        self.done.words.push(WrittenWord {
            line: self.done.lines.len() - 1,
            text: token.text.clone(),
            struck,
        });
        self.correct(token, &mut letters);
        self.done.letters.extend(letters);
        true
    }

    /// Puts the mark of a correction on the word's letters.
    fn correct(&mut self, token: &Token, letters: &mut [WrittenLetter]) {
        let stroke = self.o.stroke * self.hand.x_height;
        match token.fate {
            Fate::Kept => {}
            Fate::Struck(kind) => {
                let Some(word) = word_bounds(letters) else {
                    return;
                };
                let (base, height) = (letters[0].base, self.hand.x_height);
                let mark = match kind {
                    CorrectionKind::StruckManyTimes => {
                        mistakes::scribble(word, base, height, stroke, &mut self.rng)
                    }
                    CorrectionKind::Bracketed => {
                        mistakes::brackets(word, base, height, stroke, &mut self.rng)
                    }
                    _ => mistakes::strike(word, base, height, stroke, &mut self.rng),
                };
                let ink = bounds(&mark).map_or(word, |mark| union(mark, word));
                self.done
                    .corrections
                    .push(WrittenCorrection { kind, bounds: ink });
                self.done.marks.push(mark);
                letters
                    .iter_mut()
                    .for_each(|letter| letter.corrected = true);
            }
            Fate::WrittenOver { at, first } => {
                let Some(letter) = letters.get_mut(at) else {
                    return;
                };
                let Some(ink) = letter.bounds() else { return };
                let under = self.under(first, letter);
                letter.corrected = true;
                letter.pressure *= 1.25;
                self.done.corrections.push(WrittenCorrection {
                    kind: CorrectionKind::WrittenOver,
                    bounds: bounds(&under).map_or(ink, |under| union(under, ink)),
                });
                self.done.marks.push(under);
            }
        }
    }

    /// The wrong letter under one that was written over it, with the same middle.
    fn under(&mut self, first: char, over: &WrittenLetter) -> Outline {
        self.wobble();
        let departure = self.departure();
        let Some(glyph) = self.fonts.shape(self.hand.shapes, &first.to_string()).pop() else {
            return Vec::new();
        };
        let scale = over.x_height;
        let mut outline = self.map(
            &glyph.outline,
            |_| departure,
            0.0,
            1.0,
            scale,
            |_| over.base,
        );
        if let (Some(own), Some(wanted)) = (bounds(&outline), bounds(&over.body)) {
            let dx = (wanted.x0.0 + wanted.x1.0 - own.x0.0 - own.x1.0) / 2.0;
            outline.iter_mut().flatten().for_each(|point| point.x += dx);
        }
        outline
    }

    /// Places a word after what is on the line, leaving `room` for a bracket before it.
    fn place(&mut self, text: &str, room: f64) -> Vec<WrittenLetter> {
        let Some(line) = self.done.lines.last().cloned() else {
            return Vec::new();
        };
        let start = if self.cursor.is_nan() {
            line.left
        } else {
            self.cursor
        };
        let glyphs = self.fonts.shape(self.hand.shapes, text);
        let mut letters = match self.hand.shapes.joined() {
            true => self.joined(&glyphs, &line, start),
            false => self.unjoined(&glyphs, &line, start),
        };
        let wanted = if self.cursor.is_nan() {
            line.left + room
        } else {
            let gap = self.hand.word_gap + self.hand.word_gap_sd * self.rng.normal();
            self.cursor + gap.max(0.3) * self.o_mm() + room
        };
        let left = word_bounds(&letters).map_or(wanted, |found| found.x0.0);
        let dx = wanted - left;
        letters
            .iter_mut()
            .for_each(|letter| letter.shift(dx, -line.slope * dx));
        letters
    }
}

fn word_bounds(letters: &[WrittenLetter]) -> Option<BoxMm> {
    letters
        .iter()
        .filter_map(WrittenLetter::bounds)
        .reduce(union)
}
