//! Text set in an open font at a known size, and what the font's tables say of it.

use std::collections::BTreeMap;

use demo::outline::{Outline, Point, bounds};
use demo::writing::{Writing, WrittenLetter, WrittenLine, WrittenWord};

use crate::tables::{Font, Tables};

/// Text on a sheet with what the tables say of it, in millimetres.
pub struct Set {
    pub writing: Writing,
    pub text: Vec<String>,
    /// Mean height of the boxes of short letters, dots left out.
    pub x_height: f64,
    /// Median height of the boxes of tall letters, and depth of tails, in those.
    pub ascender: f64,
    pub descender: f64,
    pub o_width: f64,
    /// White between letters and words by side bearings and advances, in widths of the o: it cannot
    /// be less.
    pub letter_bearings: f64,
    pub word_bearings: f64,
    /// The least white on a row that both letters have ink on, by their outlines, in the same.
    pub letter_gap: f64,
    pub word_gap: f64,
    /// Median height of the lowest ink above the baseline, mm.
    pub foot: f64,
    /// Lean of stems: of tall letters above the short ones, of p below the baseline.
    pub stems: f64,
}

/// Letters whose sides are upright stems, or bowls widest half-way up: for these the white between
/// two letters is one's right side bearing and the other's left.
const WORDS: &str = "noon hum bun mob pin pup limb hoop bump plum bill moon nib lion pool limp hub \
    bin pup in million up on plump bloom hip lump nil pulp mini bulb numb boil limo";

/// Sets words on the given baselines, from `left` to `right` (mm), x-height by `OS/2.sxHeight`.
pub fn set(font: Font, x_height: f64, baselines: &[f64], (left, right): (f64, f64)) -> Set {
    let tables = font.tables();
    let scale = x_height / tables.x_height();
    let mut words = WORDS.split_whitespace().cycle();
    let mut glyphs: BTreeMap<char, Glyph> = BTreeMap::new();
    for c in WORDS.chars().filter(char::is_ascii_lowercase) {
        glyphs
            .entry(c)
            .or_insert_with(|| Glyph::new(&tables, c, scale));
    }
    let space = tables.advance(' ') * scale;
    let mut out = Writing::default();
    let mut text = Vec::new();
    for (line, &base) in baselines.iter().enumerate() {
        let (mut x, mut typed) = (left, Vec::new());
        out.lines.push(WrittenLine {
            rule: base,
            left,
            offset: 0.0,
            slope: 0.0,
            slant: 0.0,
        });
        loop {
            let word = words.next().expect("the words go round");
            let width: f64 = word.chars().map(|c| glyphs[&c].advance).sum();
            if x + width > right {
                break;
            }
            for c in word.chars() {
                let letter = glyphs[&c].placed(c, (line, out.words.len()), (x, base), x_height);
                out.letters.push(letter);
                x += glyphs[&c].advance;
            }
            out.words.push(WrittenWord {
                line,
                text: word.to_owned(),
                struck: None,
            });
            typed.push(word);
            x += space;
        }
        text.push(typed.join(" "));
    }
    tell(out, text, &glyphs, space, (scale, tables.x_height()))
}

/// One letter's tables at the size it is set in, mm, y up.
struct Glyph {
    outline: Outline,
    dots: Outline,
    advance: f64,
    /// Left, bottom, right and top of the outline without dots.
    bounds: [f64; 4],
}

impl Glyph {
    fn new(tables: &Tables, c: char, scale: f64) -> Self {
        let mut outline = tables.outline(c);
        for point in outline.iter_mut().flatten() {
            (point.x, point.y) = (point.x * scale, point.y * scale);
        }
        let limit = 0.95 * tables.x_height() * scale;
        let (outline, dots): (Outline, Outline) = outline.into_iter().partition(|contour| {
            c != 'i' || contour.iter().map(|p| p.y).fold(f64::MAX, f64::min) < limit
        });
        let b = bounds(&outline).expect("the letter has an outline");
        Self {
            outline,
            dots,
            advance: tables.advance(c) * scale,
            bounds: [b.x0.0, b.y0.0, b.x1.0, b.y1.0],
        }
    }

    fn placed(
        &self,
        char: char,
        (line, word): (usize, usize),
        (x, base): (f64, f64),
        x_height: f64,
    ) -> WrittenLetter {
        let place = |outline: &Outline| -> Outline {
            let on_sheet = |p: &Point| Point {
                x: x + p.x,
                y: base - p.y,
            };
            let contours = outline.iter();
            contours.map(|c| c.iter().map(on_sheet).collect()).collect()
        };
        WrittenLetter {
            line,
            word,
            char,
            body: place(&self.outline),
            dots: place(&self.dots),
            base,
            x_height,
            pressure: 1.0,
            corrected: false,
            standard: true,
        }
    }

    /// Lean of its stem where it stands clear of short letters: of `b h l` above them, of `p` below
    /// the baseline.
    fn stem(&self, c: char, zone: f64) -> Option<f64> {
        let [_, bottom, _, top] = self.bounds;
        match c {
            'b' | 'h' | 'l' => Some(self.lean(1.1 * zone, top - 0.15 * (top - zone))),
            'p' => Some(self.lean(0.75 * bottom, -0.1 * zone)),
            _ => None,
        }
    }

    /// Lean of the middle of its ink between two heights.
    fn lean(&self, from: f64, to: f64) -> f64 {
        let rows: Vec<(f64, f64)> = (0..40)
            .map(|k| from + (to - from) * (f64::from(k) + 0.5) / 40.0)
            .filter_map(|y| {
                let (a, b) = demo::outline::extent(&self.outline, y)?;
                Some((y, (a + b) / 2.0))
            })
            .collect();
        let n = rows.len() as f64;
        let my = rows.iter().map(|r| r.0).sum::<f64>() / n;
        let mx = rows.iter().map(|r| r.1).sum::<f64>() / n;
        let covariance: f64 = rows.iter().map(|r| (r.0 - my) * (r.1 - mx)).sum();
        let variance: f64 = rows.iter().map(|r| (r.0 - my) * (r.0 - my)).sum();
        (covariance / variance).atan().to_degrees()
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    (values[(values.len() - 1) / 2] + values[values.len() / 2]) / 2.0
}

fn tell(
    writing: Writing,
    text: Vec<String>,
    glyphs: &BTreeMap<char, Glyph>,
    space: f64,
    (scale, x_height): (f64, f64),
) -> Set {
    let of = |kinds: &str, what: fn(&Glyph) -> f64| -> Vec<f64> {
        let letters = writing.letters.iter().map(|letter| letter.char);
        letters
            .filter(|c| kinds.contains(*c))
            .map(|c| what(&glyphs[&c]))
            .collect()
    };
    let short = mean(&of("imnou", |g| g.bounds[3] - g.bounds[1]));
    let (mut within, mut between) = (Gaps::default(), Gaps::default());
    for pair in writing.letters.windows(2) {
        let (a, b) = (&glyphs[&pair[0].char], &glyphs[&pair[1].char]);
        let bearings = a.advance - a.bounds[2] + b.bounds[0];
        let white = demo::writing::white_between(&pair[0], &pair[1]);
        if pair[0].word == pair[1].word {
            within.add(bearings, white);
        } else if pair[0].line == pair[1].line {
            between.add(bearings + space, white);
        }
    }
    let o = glyphs[&'o'].bounds;
    let o_width = o[2] - o[0];
    let zone = x_height * scale;
    let stems: Vec<f64> = writing
        .letters
        .iter()
        .filter_map(|letter| glyphs[&letter.char].stem(letter.char, zone))
        .collect();
    Set {
        x_height: short,
        ascender: median(of("bhl", |g| g.bounds[3])) / short,
        descender: median(of("p", |g| -g.bounds[1])) / short,
        o_width,
        letter_bearings: mean(&within.bearings) / o_width,
        word_bearings: mean(&between.bearings) / o_width,
        letter_gap: mean(&within.whites) / o_width,
        word_gap: mean(&between.whites) / o_width,
        foot: median(of("imnouhbl", |g| g.bounds[1])),
        stems: mean(&stems),
        writing,
        text,
    }
}

/// Gaps by side bearings and by rows, mm.
#[derive(Default)]
struct Gaps {
    bearings: Vec<f64>,
    whites: Vec<f64>,
}

impl Gaps {
    fn add(&mut self, bearings: f64, white: Option<f64>) {
        self.bearings.push(bearings);
        self.whites.push(white.unwrap_or(bearings));
    }
}
