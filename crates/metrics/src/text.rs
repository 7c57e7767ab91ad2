//! What is known of letters before any is seen, and which of the known words stand on which line.
//!
//! Classes and reaches are common practice of the trade, with no single source; widths are rough
//! and are replaced by the writer's own as soon as some letters are found.

use crate::maths::{ln, square};
use units::LetterClass;

/// Letters that stand within the short zone.
const SHORT: &str = "aceimnorsuvwxz";
/// Letters that rise above it.
const TALL: &str = "bdfhklt";
/// Letters that hang below the baseline.
const TAIL: &str = "gjpqy";

/// Height class of a character.
pub(crate) fn class_of(c: char) -> LetterClass {
    if SHORT.contains(c) {
        LetterClass::Short
    } else if TALL.contains(c) {
        LetterClass::Tall
    } else if TAIL.contains(c) {
        LetterClass::Tail
    } else {
        LetterClass::Other
    }
}

/// What a character is expected to look like, in x-heights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shape {
    pub width: f64,
    pub high: f64,
    pub low: f64,
    /// How far `high` and `low` may lie off.
    pub slack: f64,
}

/// Expected shapes, sharpened by the writer's own letters.
#[derive(Debug, Clone)]
pub(crate) struct Shapes {
    own: Vec<(char, Shape)>,
}

impl Shapes {
    /// What holds for any writer.
    pub(crate) fn general() -> Self {
        Self { own: Vec::new() }
    }

    /// The expected shape of a character.
    pub(crate) fn of(&self, c: char) -> Shape {
        self.own
            .iter()
            .find(|(own, _)| *own == c)
            .map_or_else(|| general_shape(c), |(_, shape)| *shape)
    }

    /// Takes in a writer's letters: medians of what was seen, drawn towards the general shape
    /// where few were seen.
    pub(crate) fn learn(&mut self, c: char, seen: &[Shape]) {
        let general = general_shape(c);
        let n = seen.len() as f64;
        let blend = |pick: fn(&Shape) -> f64| {
            let values: Vec<f64> = seen.iter().map(pick).collect();
            let own = crate::stats::median(&values).unwrap_or(pick(&general));
            (own * n + pick(&general)) / (n + 1.0)
        };
        let shape = Shape {
            width: blend(|s| s.width),
            high: blend(|s| s.high),
            low: blend(|s| s.low),
            slack: if seen.len() >= 3 { 0.16 } else { general.slack },
        };
        self.own.retain(|(own, _)| *own != c);
        self.own.push((c, shape));
    }
}

fn general_shape(c: char) -> Shape {
    let (high, low, slack) = match class_of(c) {
        LetterClass::Short => (1.0, 0.0, 0.2),
        LetterClass::Tall if c == 't' => (1.4, 0.0, 0.25),
        LetterClass::Tall if c == 'f' => (1.6, 0.1, 0.4),
        LetterClass::Tall => (1.6, 0.0, 0.3),
        LetterClass::Tail => (1.0, 0.6, 0.3),
        LetterClass::Other => match c {
            '.' => (0.2, 0.0, 0.2),
            ',' | ';' => (0.2, 0.25, 0.25),
            '\'' | '’' | '"' | '“' | '”' => (1.6, -1.1, 0.3),
            '-' | '–' => (0.6, -0.4, 0.2),
            _ => (1.5, 0.0, 0.35),
        },
    };
    Shape {
        width: general_width(c),
        high,
        low,
        slack,
    }
}

fn general_width(c: char) -> f64 {
    match c {
        'i' | 'l' | '1' | '\'' | '’' | '!' | ':' => 0.28,
        '.' | ',' | ';' => 0.22,
        'j' => 0.5,
        'r' | 't' => 0.62,
        'f' | 's' | 'c' | 'z' | '-' => 0.72,
        'e' | 'k' | 'v' | 'x' | 'y' => 0.82,
        'm' | 'w' => 1.35,
        'I' | 'J' => 0.6,
        'M' | 'W' => 1.6,
        c if c.is_uppercase() => 1.15,
        _ => 0.88,
    }
}

/// Letters and signs of a text; spaces are none.
pub(crate) fn letters(text: &[String]) -> usize {
    let of_line = |line: &String| line.chars().filter(|c| !c.is_whitespace()).count();
    text.iter().map(of_line).sum()
}

/// Width of a text in x-heights, as it would be written.
pub(crate) fn text_width(text: &[char]) -> f64 {
    text.iter()
        .map(|c| {
            if *c == ' ' {
                1.1
            } else {
                general_width(*c) + 0.25
            }
        })
        .sum()
}

/// Finds the known text of every written line; `None` where none fits. `widths` are the lines'
/// widths in x-heights, crossings-out left out.
pub(crate) fn match_lines(text: &[String], widths: &[f64]) -> Vec<Option<Vec<char>>> {
    let known: Vec<Vec<char>> = text
        .iter()
        .map(|line| tidy(line))
        .filter(|line| !line.is_empty())
        .collect();
    if known.is_empty() || widths.is_empty() {
        return vec![None; widths.len()];
    }
    if known.len() == widths.len() {
        return known.into_iter().map(Some).collect();
    }
    without_specks(&known, widths)
        .or_else(|| by_skipping(&known, widths))
        .or_else(|| by_breaking(&known, widths))
        .unwrap_or_else(|| vec![None; widths.len()])
}

/// One line of text with single spaces.
fn tidy(line: &str) -> Vec<char> {
    line.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .chars()
        .collect()
}

fn misfit(written: f64, text: f64) -> f64 {
    ln(written.max(0.3) / text.max(0.3)).abs()
}

/// Lines of writing beyond the known ones, where they are far too narrow to be any of them, are specks.
fn without_specks(known: &[Vec<char>], widths: &[f64]) -> Option<Vec<Option<Vec<char>>>> {
    const FAR_TOO_NARROW: f64 = 0.4;
    let over = widths.len().checked_sub(known.len()).filter(|n| *n > 0)?;
    let mut narrow: Vec<usize> = (0..widths.len()).collect();
    narrow.sort_by(|a, b| widths[*a].total_cmp(&widths[*b]));
    narrow.truncate(over);
    let expected: Vec<f64> = known.iter().map(|k| text_width(k)).collect();
    let wide: Vec<f64> = (0..widths.len())
        .filter(|i| !narrow.contains(i))
        .map(|i| widths[i])
        .collect();
    // In the writer's own width: one running text is as long as many lines.
    let scale = crate::stats::median(&wide)? / crate::stats::median(&expected)?;
    let least = scale * expected.iter().copied().fold(f64::MAX, f64::min);
    let specks = narrow.iter().all(|&i| widths[i] < FAR_TOO_NARROW * least);
    let mut rest = known.iter();
    specks.then(|| {
        (0..widths.len())
            .map(|i| {
                if narrow.contains(&i) {
                    None
                } else {
                    rest.next().cloned()
                }
            })
            .collect()
    })
}

/// Lines of text stand for lines of writing, in order, some of either left out.
fn by_skipping(known: &[Vec<char>], widths: &[f64]) -> Option<Vec<Option<Vec<char>>>> {
    const SKIP: f64 = 0.45;
    if known.len() < 2 {
        return None;
    }
    let (n, m) = (widths.len(), known.len());
    let expected: Vec<f64> = known.iter().map(|k| text_width(k)).collect();
    let scale = crate::stats::median(widths)? / crate::stats::median(&expected)?;
    let mut cost = vec![vec![f64::MAX; m + 1]; n + 1];
    cost[0][0] = 0.0;
    for i in 0..=n {
        for j in 0..=m {
            let here = cost[i][j];
            if i < n && j < m {
                let pair = here + misfit(widths[i], expected[j] * scale);
                cost[i + 1][j + 1] = cost[i + 1][j + 1].min(pair);
            }
            if i < n {
                cost[i + 1][j] = cost[i + 1][j].min(here + SKIP);
            }
            if j < m {
                cost[i][j + 1] = cost[i][j + 1].min(here + SKIP);
            }
        }
    }
    if cost[n][m] > 0.22 * n.max(m) as f64 {
        return None;
    }
    let mut out = vec![None; n];
    let (mut i, mut j) = (n, m);
    while i > 0 && j > 0 {
        let pair = cost[i - 1][j - 1] + misfit(widths[i - 1], expected[j - 1] * scale);
        if (cost[i][j] - pair).abs() < 1e-9 {
            out[i - 1] = Some(known[j - 1].clone());
            (i, j) = (i - 1, j - 1);
        } else if (cost[i][j] - cost[i - 1][j] - SKIP).abs() < 1e-9 {
            i -= 1;
        } else {
            j -= 1;
        }
    }
    Some(out)
}

/// Running text is broken where the lines' widths say.
fn by_breaking(known: &[Vec<char>], widths: &[f64]) -> Option<Vec<Option<Vec<char>>>> {
    let words: Vec<Vec<char>> = known
        .iter()
        .flat_map(|line| line.split(|c| *c == ' ').map(<[char]>::to_vec))
        .collect();
    let (n, m) = (widths.len(), words.len());
    /// No written line has more words.
    const MOST_A_LINE: usize = 40;
    if m < n || m > MOST_A_LINE * n || n * m > 200_000 {
        return None;
    }
    let each: Vec<f64> = words.iter().map(|w| text_width(w)).collect();
    let total: f64 = each.iter().sum::<f64>() + 1.1 * (m - n) as f64;
    let scale = widths.iter().sum::<f64>() / total;
    let mut cost = vec![vec![(f64::MAX, 0); m + 1]; n + 1];
    cost[0][0] = (0.0, 0);
    for i in 0..n {
        for j in i..m {
            if cost[i][j].0 == f64::MAX {
                continue;
            }
            let mut width = 0.0;
            for k in j + 1..=m {
                width += each[k - 1] + if k > j + 1 { 1.1 } else { 0.0 };
                let sum = cost[i][j].0 + square(misfit(widths[i], width * scale));
                if sum < cost[i + 1][k].0 {
                    cost[i + 1][k] = (sum, j);
                }
                if width * scale > 2.5 * widths[i] + 3.0 {
                    break;
                }
            }
        }
    }
    if cost[n][m].0 > 0.02 * n as f64 {
        return None;
    }
    let mut out = vec![None; n];
    let mut end = m;
    for i in (1..=n).rev() {
        let start = cost[i][end].1;
        out[i - 1] = Some(words[start..end].join(&' '));
        end = start;
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &[&str]) -> Vec<String> {
        text.iter().map(|t| (*t).to_string()).collect()
    }

    fn widths(text: &[&str]) -> Vec<f64> {
        text.iter()
            .map(|t| text_width(&t.chars().collect::<Vec<_>>()) * 1.1)
            .collect()
    }

    const WRITTEN: [&str; 4] = [
        "the small boat went out",
        "before the sun was up and",
        "came home",
        "with a net full of fish",
    ];

    #[test]
    fn running_text_is_broken_as_it_was_written() {
        let found = match_lines(&lines(&[&WRITTEN.join(" ")]), &widths(&WRITTEN));
        let found: Vec<String> = found.into_iter().flatten().map(String::from_iter).collect();
        assert_eq!(found, WRITTEN);
    }

    #[test]
    fn a_line_that_is_no_writing_gets_no_text() {
        let mut seen = widths(&WRITTEN);
        seen.insert(2, 2.0);
        let found = match_lines(&lines(&WRITTEN), &seen);
        assert_eq!(found[2], None);
        assert_eq!(found.iter().flatten().count(), 4);
    }

    #[test]
    fn specks_that_stand_in_a_line_of_their_own_get_no_text() {
        let mut seen: Vec<f64> = widths(&WRITTEN).iter().map(|w| w * 1.8).collect();
        seen[1] *= 0.4;
        seen.push(1.5);
        let found = match_lines(&lines(&WRITTEN), &seen);
        assert_eq!(found[4], None);
        let texts: Vec<String> = found.into_iter().flatten().map(String::from_iter).collect();
        assert_eq!(texts, WRITTEN);
    }
}
