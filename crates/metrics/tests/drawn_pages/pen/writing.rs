//! Where every letter stands, and how it is joined to the next.

use super::letters::{self, on_ring};
use super::{Flaw, Joins, Sheet, Stroke};

type Point = (f64, f64);

/// Where a join leaves a letter.
fn exit(c: char, dips: bool) -> Point {
    match c {
        'o' => on_ring(if dips { 7.0 / 8.0 } else { 1.0 / 8.0 }),
        'a' | 'd' => (2.0 * letters::RING, 0.0),
        'h' | 'n' | 'u' => (0.7, 0.0),
        't' => (0.28, 0.0),
        _ => (0.0, 0.0),
    }
}

/// Where a join comes to a letter.
fn entry(c: char) -> Point {
    match c {
        'o' | 'a' | 'd' => on_ring(3.0 / 8.0),
        't' => (0.28, 0.8),
        _ => (0.0, 0.8),
    }
}

/// Where a join leaves a letter at its top, and where it comes to the next.
fn level(c: char, next: char) -> (Point, Point) {
    let from = match c {
        'a' => (2.0 * letters::RING, 1.0),
        'u' => (0.7, 1.0),
        // The top of the arch.
        'h' | 'n' => (0.35, 1.0),
        other => panic!("no join leaves {other} high"),
    };
    let to = match next {
        'o' | 'a' | 'd' => (letters::RING, 1.0),
        't' => (0.28, 1.0),
        _ => (0.0, 1.0),
    };
    (from, to)
}

/// A letter as it was written. Millimetres on the sheet before it is turned.
#[derive(Debug, Clone)]
pub struct Written {
    pub line: usize,
    /// Which of its line's words it is in.
    pub word: usize,
    pub ch: char,
    /// Whether the sheet's flaw is in it.
    pub flawed: bool,
    /// The lower edge of ink that stands on the line here.
    pub foot: f64,
    /// Where it begins on the line, and where the next may.
    from: f64,
    to: f64,
    /// Half the pen's width.
    half: f64,
    strokes: Vec<Stroke>,
    /// The join that leads to it from the letter before.
    join: Option<Stroke>,
}

impl Written {
    pub(super) fn strokes(&self) -> impl Iterator<Item = &Stroke> {
        self.strokes.iter().chain(&self.join)
    }

    /// Edges of its ink without the join: left, top, right, bottom.
    pub fn edges(&self) -> [f64; 4] {
        let points = self.strokes.iter().flatten();
        let edges = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
        let [left, top, right, bottom] = points.fold(edges, |e, p| {
            [e[0].min(p.0), e[1].min(p.1), e[2].max(p.0), e[3].max(p.1)]
        });
        let half = self.half;
        [left - half, top - half, right + half, bottom + half]
    }
}

impl Sheet {
    /// Every letter of the page, line by line.
    pub fn written(&self) -> Vec<Written> {
        let mut all: Vec<Written> = Vec::new();
        for (row, text) in self.text.iter().enumerate() {
            let mut x = self.margin();
            for (index, word) in text.split(' ').enumerate() {
                let first = all.len();
                let mut starred = false;
                for c in word.chars() {
                    if c == '*' {
                        starred = true;
                        continue;
                    }
                    let nth = all.len() - first;
                    let mut letter = self.place(c, x, nth, (row, index), starred);
                    let before = all[first..].last();
                    letter.join = before.and_then(|last| self.join(last, &letter, nth));
                    x = letter.to + self.letter_gap;
                    all.push(letter);
                    starred = false;
                }
                x += self.word_gap - self.letter_gap;
            }
        }
        all
    }

    /// As an adult types a line: what was crossed out is left out.
    pub(super) fn typed(&self, row: usize) -> String {
        let words = self.text[row].split(' ').enumerate();
        let kept = words.filter(|(index, _)| self.strike != Some((row, *index)));
        let kept = kept.map(|(_, word)| word.replace('*', ""));
        kept.collect::<Vec<_>>().join(" ")
    }

    fn margin(&self) -> f64 {
        6.0 * self.height / 2.6
    }

    /// The `nth` letter of a word, from the left edge of its ink.
    fn place(
        &self,
        ch: char,
        from: f64,
        nth: usize,
        (line, word): (usize, usize),
        starred: bool,
    ) -> Written {
        let flaw = self.flaw.filter(|_| starred);
        let flaw = flaw.or(self.open.then_some(Flaw::Open));
        let strokes = letters::letter(ch, flaw, self.pen / self.height);
        let width = strokes.iter().flatten().map(|p| p.0).fold(0.0, f64::max);
        let up = if nth.is_multiple_of(2) {
            self.wobble
        } else {
            -self.wobble
        };
        let climb = (from - self.margin()) * self.drift.to_radians().tan();
        let middle = (line + 2) as f64 * self.pitch.unwrap_or(10.0) - up - climb;
        let lean = self.slant.to_radians().tan();
        let half = self.pen / 2.0;
        let placed = |(x, y): (f64, f64)| {
            let high = y * self.height;
            (from + half + x * self.height + lean * high, middle - high)
        };
        Written {
            line,
            word,
            ch,
            flawed: starred,
            foot: middle + half,
            from,
            to: from + width * self.height + self.pen,
            half,
            strokes: strokes
                .into_iter()
                .map(|stroke| stroke.into_iter().map(placed).collect())
                .collect(),
            join: None,
        }
    }

    /// The join from a letter to the next, which is the `nth` of its word.
    fn join(&self, last: &Written, next: &Written, nth: usize) -> Option<Stroke> {
        if matches!(self.joins, Joins::Unjoined | Joins::Left) {
            return None;
        }
        let foot = next.foot - next.half;
        let at = |letter: &Written, (x, y): (f64, f64)| {
            let left = letter.from + letter.half;
            (left + x * self.height, foot - y * self.height)
        };
        if last.flawed && self.flaw == Some(Flaw::LeavesHigh) {
            let (from, to) = level(last.ch, next.ch);
            return Some(vec![at(last, from), at(next, to)]);
        }
        let dips = self.joins == Joins::Dipping && last.ch == 'o' && nth.is_multiple_of(2);
        let (from, to) = (at(last, exit(last.ch, dips)), at(next, entry(next.ch)));
        let low = (0.5 * (from.0 + to.0), foot - 0.05 * self.height);
        Some(if dips {
            vec![from, low, to]
        } else {
            vec![from, to]
        })
    }

    /// The stroke through a word that was given up.
    pub(super) fn strike_out(&self, written: &[Written]) -> Option<Stroke> {
        let (line, word) = self.strike?;
        let mut those = written.iter().filter(|w| (w.line, w.word) == (line, word));
        let first = those.next()?;
        let last = those.next_back().unwrap_or(first);
        let y = (line + 2) as f64 * self.pitch.unwrap_or(10.0) - 0.5 * self.height;
        let end = last.to + self.letter_gap - 0.2;
        Some(vec![(first.from - 0.6, y), (end, y + 0.2)])
    }
}
