//! A hand that writes: text in, letters in millimetres of the sheet out.

use units::{BoxMm, CorrectionKind};

use crate::font::{Fonts, Glyph, Shapes, split_dots};
use crate::mistakes::{self, Fate, Token};
use crate::outline::{Outline, Point, bounds, extent, union};
use crate::paper::Sheet;
use crate::rng::Rng;

/// What a hand does, on the whole and with what spread.
#[derive(Debug, Clone, PartialEq)]
pub struct Hand {
    /// Letter shapes.
    pub shapes: Shapes,
    /// Height of short letters, mm.
    pub x_height: f64,
    /// Spread of single letters' heights, as a share.
    pub x_height_cv: f64,
    /// Change of height along the line, per cent for each 100 mm.
    pub growth: f64,
    /// Width against height; 1 is the shape as drawn.
    pub width: f64,
    /// Lean added to the shapes' own, degrees; + forward.
    pub slant: f64,
    /// Spread of single letters' lean, degrees.
    pub slant_sd: f64,
    /// Climb of the lines, degrees; + climbs.
    pub drift: f64,
    /// Spread of the climb from line to line, degrees.
    pub drift_sd: f64,
    /// Spread of single letters about their line, mm.
    pub bob: f64,
    /// Height above the rule, mm.
    pub offset: f64,
    /// White between letters, in widths of the o, for unjoined shapes; added stretch for joined.
    pub letter_gap: f64,
    /// Its spread.
    pub letter_gap_sd: f64,
    /// White between words, in widths of the o.
    pub word_gap: f64,
    /// Its spread.
    pub word_gap_sd: f64,
    /// Reach of tall letters above the short ones; 1 is the shape as drawn.
    pub ascender: f64,
    /// Reach of tails; 1 is the shape as drawn.
    pub descender: f64,
    /// How far the same letter differs in shape from one time to the next, in heights of a short
    /// letter.
    pub wobble: f64,
    /// Share of words with a correction.
    pub corrections: f64,
    /// The kinds of correction this hand makes.
    pub kinds: Vec<CorrectionKind>,
}

impl Hand {
    /// An even hand with the given shapes; change what should differ.
    pub fn even(shapes: Shapes, x_height: f64) -> Self {
        Self {
            shapes,
            x_height,
            x_height_cv: 0.05,
            growth: 0.0,
            width: 1.0,
            slant: 0.0,
            slant_sd: 2.0,
            drift: 0.0,
            drift_sd: 0.15,
            bob: 0.12,
            offset: 0.0,
            letter_gap: 0.3,
            letter_gap_sd: 0.08,
            word_gap: 1.3,
            word_gap_sd: 0.2,
            ascender: 1.0,
            descender: 1.0,
            wobble: 0.03,
            corrections: 0.0,
            kinds: Vec::new(),
        }
    }
}

/// A letter on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenLetter {
    /// Index into [`Writing::lines`].
    pub line: usize,
    /// Index into [`Writing::words`].
    pub word: usize,
    /// The character meant.
    pub char: char,
    /// Ink without dots, mm.
    pub body: Outline,
    /// Dots of i and j, mm.
    pub dots: Outline,
    /// Where the letter was set, mm down the sheet.
    pub base: f64,
    /// Height of a short letter of this size, mm.
    pub x_height: f64,
    /// Darkness of the stroke, about 1.
    pub pressure: f64,
    /// Whether a correction lies on it.
    pub corrected: bool,
    /// Whether the shape as drawn stands on the line and, if short, has a short letter's height.
    pub standard: bool,
}

impl WrittenLetter {
    /// All its ink.
    pub fn bounds(&self) -> Option<BoxMm> {
        match (bounds(&self.body), bounds(&self.dots)) {
            (Some(body), Some(dots)) => Some(union(body, dots)),
            (body, dots) => body.or(dots),
        }
    }

    fn shift(&mut self, dx: f64, dy: f64) {
        for point in self.body.iter_mut().chain(&mut self.dots).flatten() {
            point.x += dx;
            point.y += dy;
        }
        self.base += dy;
    }
}

/// A word on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenWord {
    /// Index into [`Writing::lines`].
    pub line: usize,
    /// What was written.
    pub text: String,
    /// How it was taken back, if it was.
    pub struck: Option<CorrectionKind>,
}

/// A line on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenLine {
    /// The rule under it, mm down; on plain paper where the writer meant it to be.
    pub rule: f64,
    /// Left end of the baseline, mm.
    pub left: f64,
    /// Height of the baseline above the rule at the left end, mm.
    pub offset: f64,
    /// Climb, as a slope.
    pub slope: f64,
    /// Lean added on this line, degrees.
    slant: f64,
}

impl WrittenLine {
    /// Where letters are set at `x`, mm down.
    pub fn base(&self, x: f64) -> f64 {
        self.rule - self.offset - self.slope * (x - self.left)
    }
}

/// A correction on the sheet.
#[derive(Debug, Clone)]
pub struct WrittenCorrection {
    /// How it was done.
    pub kind: CorrectionKind,
    /// All ink of the word and of the mark.
    pub bounds: BoxMm,
}

/// Everything written on one sheet.
#[derive(Debug, Clone, Default)]
pub struct Writing {
    /// Lines, top to bottom.
    pub lines: Vec<WrittenLine>,
    /// Words in order of writing.
    pub words: Vec<WrittenWord>,
    /// Letters in order of writing.
    pub letters: Vec<WrittenLetter>,
    /// Corrections in order of writing.
    pub corrections: Vec<WrittenCorrection>,
    /// Ink that is no letter: strike lines, brackets, and letters that were written over.
    pub marks: Vec<Outline>,
    /// Words that found no room.
    pub left_over: usize,
}

impl Writing {
    /// The text line by line as an adult would type it: words taken back are left out.
    pub fn text(&self) -> Vec<String> {
        (0..self.lines.len())
            .map(|line| {
                let kept: Vec<&str> = self
                    .words
                    .iter()
                    .filter(|word| word.line == line && word.struck.is_none())
                    .map(|word| word.text.as_str())
                    .collect();
                kept.join(" ")
            })
            .collect()
    }
}

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

/// The smallest white between two letters on the rows of the x-zone that both have ink on, mm;
/// negative where they overlap. `None` where there is no such row.
pub fn white_between(left: &WrittenLetter, right: &WrittenLetter) -> Option<f64> {
    const ROWS: usize = 40;
    let base = (left.base + right.base) / 2.0;
    let height = (left.x_height + right.x_height) / 2.0;
    (0..ROWS)
        .filter_map(|row| {
            let y = base - height * (row as f64 + 0.5) / ROWS as f64;
            Some(extent(&right.body, y)?.0 - extent(&left.body, y)?.1)
        })
        .min_by(f64::total_cmp)
}

/// How one letter departs from the shape as drawn.
#[derive(Debug, Clone, Copy)]
struct Departure {
    height: f64,
    bob: f64,
    lean: f64,
    extra: f64,
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

    fn departure(&mut self) -> Departure {
        let hand = self.hand;
        let slant = self.done.lines.last().map_or(hand.slant, |line| line.slant);
        Departure {
            height: 1.0 + hand.x_height_cv * self.rng.normal(),
            bob: hand.bob * self.rng.normal(),
            lean: libm::tan((slant + hand.slant_sd * self.rng.normal()).to_radians()),
            extra: 0.0,
        }
    }

    /// Height of a short letter at `x`, mm.
    fn size_at(&self, x: f64) -> f64 {
        let left = self.done.lines.last().map_or(0.0, |line| line.left);
        self.hand.x_height * (1.0 + self.hand.growth / 100.0 * (x - left) / 100.0)
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
        let mut letters = match self.hand.shapes.model() {
            units::LetterModel::Joined => self.joined(&glyphs, &line, start),
            units::LetterModel::Unjoined => self.unjoined(&glyphs, &line, start),
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

    /// Letters that stand apart, each set by the white to its left.
    fn unjoined(&mut self, glyphs: &[Glyph], line: &WrittenLine, start: f64) -> Vec<WrittenLetter> {
        let mut letters: Vec<WrittenLetter> = Vec::new();
        let mut x = start;
        for glyph in glyphs {
            self.wobble();
            let departure = self.departure();
            let size = self.size_at(x);
            let base = line.base(x);
            let mut letter = self.letter(glyph, |_| departure, x, size, |_| base);
            letter.base = base - departure.bob;
            let gap = self.hand.letter_gap + self.hand.letter_gap_sd * self.rng.normal();
            let gap = gap.max(0.06) * self.o.width * size;
            if let Some(last) = letters.last() {
                let white = white_between(last, &letter)
                    .or_else(|| Some(letter.bounds()?.x0.0 - last.bounds()?.x1.0));
                letter.shift(gap - white.unwrap_or(gap), 0.0);
            }
            x = letter.bounds().map_or(x, |found| found.x1.0);
            letters.push(letter);
        }
        letters
    }

    /// Letters drawn in one go: what changes from letter to letter changes along the joins.
    fn joined(&mut self, glyphs: &[Glyph], line: &WrittenLine, start: f64) -> Vec<WrittenLetter> {
        self.wobble();
        let size = self.size_at(start);
        let mut knots = Vec::new();
        let (mut origin, mut extra) = (0.0, 0.0);
        for glyph in glyphs {
            let gap = self.hand.letter_gap + self.hand.letter_gap_sd * self.rng.normal();
            let departure = Departure {
                extra,
                ..self.departure()
            };
            knots.push((origin, origin + glyph.advance, departure));
            origin += glyph.advance;
            extra += gap * self.o.width * size;
        }
        let mut letters = Vec::new();
        for (glyph, &(origin, end, own)) in glyphs.iter().zip(&knots) {
            self.origin = origin;
            let at = |x: f64| between(&knots, origin + x);
            let left = start + origin * self.hand.width * size;
            let mut letter = self.letter(glyph, at, left, size, |x| line.base(x));
            let middle = left + (end - origin) / 2.0 * self.hand.width * size + own.extra;
            letter.base = line.base(middle) - own.bob;
            letters.push(letter);
        }
        self.origin = 0.0;
        letters
    }

    fn letter(
        &mut self,
        glyph: &Glyph,
        at: impl Fn(f64) -> Departure,
        left: f64,
        size: f64,
        base: impl Fn(f64) -> f64,
    ) -> WrittenLetter {
        let (body, dots) = split_dots(glyph.char, &glyph.outline);
        let own = at(glyph.advance / 2.0);
        WrittenLetter {
            line: self.done.lines.len() - 1,
            word: self.done.words.len(),
            char: glyph.char,
            standard: is_standard(glyph.char, &body),
            body: self.map(&body, &at, left, self.hand.width, size, &base),
            dots: self.map(&dots, &at, left, self.hand.width, size, &base),
            base: base(left),
            x_height: size * own.height,
            pressure: 1.0 + 0.09 * self.rng.normal(),
            corrected: false,
        }
    }

    /// Maps an outline from heights of a short letter to millimetres of the sheet.
    fn map(
        &self,
        outline: &[Vec<Point>],
        at: impl Fn(f64) -> Departure,
        left: f64,
        width: f64,
        size: f64,
        base: impl Fn(f64) -> f64,
    ) -> Outline {
        let joined = self.hand.shapes.model() == units::LetterModel::Joined;
        let warp = |point: &Point| {
            let departure = at(point.x);
            let point = self.wobbled(point);
            let up = self.reach(point.y) * size * departure.height;
            // Joined letters share their x, or joins would not meet.
            let across = if joined { 1.0 } else { departure.height };
            let x = left + point.x * width * size * across + departure.extra;
            Point {
                x: x + departure.lean * up,
                y: base(x) - up - departure.bob,
            }
        };
        outline
            .iter()
            .map(|contour| contour.iter().map(warp).collect())
            .collect()
    }

    fn wobble(&mut self) {
        for phase in &mut self.phases {
            *phase = self.rng.between(0.0, core::f64::consts::TAU);
        }
    }

    /// The point moved by a few slow waves, so that no two letters are copies.
    fn wobbled(&self, point: &Point) -> Point {
        let (x, y) = (point.x + self.origin, point.y);
        let [a, b, c, d, e, f] = self.phases;
        let wave = |along: f64, phase: f64| libm::sin(along + phase);
        let across = wave(1.2 * y + 0.7 * x, a) + wave(2.9 * x - 0.8 * y, b) + wave(5.3 * x, c);
        let up = wave(2.4 * x + 0.9 * y, d) + wave(4.7 * x, e) + wave(2.2 * y - 1.3 * x, f);
        Point {
            x: point.x + self.hand.wobble * across,
            y: point.y + self.hand.wobble * 0.6 * up,
        }
    }

    fn reach(&self, y: f64) -> f64 {
        if y > 1.0 {
            1.0 + (y - 1.0) * self.hand.ascender
        } else if y < 0.0 {
            y * self.hand.descender
        } else {
            y
        }
    }
}

/// A shape counts for size and for sitting only where the font draws it like its class.
fn is_standard(char: char, body: &[Vec<Point>]) -> bool {
    let Some(found) = bounds(body) else {
        return false;
    };
    let sits = !"abcdehiklmnorstuvwxz".contains(char) || found.y0.0.abs() <= 0.12;
    let height = found.y1.0 - found.y0.0;
    let sized = !"aceimnorsuvwxz".contains(char) || (0.75..=1.25).contains(&height);
    sits && sized
}

/// The departure at `x` of a run: constant over the middle of each letter, straight between.
fn between(knots: &[(f64, f64, Departure)], x: f64) -> Departure {
    const CORE: f64 = 0.3;
    let core = |&(from, to, _): &(f64, f64, Departure)| {
        let (middle, half) = ((from + to) / 2.0, (to - from) * CORE);
        (middle - half, middle + half)
    };
    let Some(right) = knots.iter().position(|knot| core(knot).0 > x) else {
        return knots[knots.len() - 1].2;
    };
    if right == 0 {
        return knots[0].2;
    }
    let (start, end) = (core(&knots[right - 1]).1, core(&knots[right]).0);
    let t = ((x - start) / (end - start).max(1e-9)).clamp(0.0, 1.0);
    let (a, b) = (knots[right - 1].2, knots[right].2);
    let blend = |a: f64, b: f64| a + (b - a) * t;
    Departure {
        height: blend(a.height, b.height),
        bob: blend(a.bob, b.bob),
        lean: blend(a.lean, b.lean),
        extra: blend(a.extra, b.extra),
    }
}

fn word_bounds(letters: &[WrittenLetter]) -> Option<BoxMm> {
    letters
        .iter()
        .filter_map(WrittenLetter::bounds)
        .reduce(union)
}
