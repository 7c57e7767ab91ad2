//! How the letters of one word depart from the shapes as drawn, and where that puts their outlines.

use super::Writer;
use crate::font::{Glyph, split_dots};
use crate::outline::{Outline, Point, bounds};
use crate::writing::{WrittenLetter, WrittenLine, white_between};

/// How one letter departs from the shape as drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Departure {
    height: f64,
    bob: f64,
    lean: f64,
    extra: f64,
}

impl Writer<'_> {
    pub(super) fn departure(&mut self) -> Departure {
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
    pub(super) fn size_at(&self, x: f64) -> f64 {
        let left = self.done.lines.last().map_or(0.0, |line| line.left);
        self.hand.x_height * (1.0 + self.hand.growth / 100.0 * (x - left) / 100.0)
    }

    /// Letters that stand apart, each set by the white to its left.
    pub(super) fn unjoined(
        &mut self,
        glyphs: &[Glyph],
        line: &WrittenLine,
        start: f64,
    ) -> Vec<WrittenLetter> {
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
    pub(super) fn joined(
        &mut self,
        glyphs: &[Glyph],
        line: &WrittenLine,
        start: f64,
    ) -> Vec<WrittenLetter> {
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
    pub(super) fn map(
        &self,
        outline: &[Vec<Point>],
        at: impl Fn(f64) -> Departure,
        left: f64,
        width: f64,
        size: f64,
        base: impl Fn(f64) -> f64,
    ) -> Outline {
        let joined = self.hand.shapes.joined();
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

    pub(super) fn wobble(&mut self) {
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
