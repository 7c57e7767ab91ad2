//! Atoms ↔ the known letters of a line, by dynamic programming.

use units::LetterClass;

use crate::letters::atoms::Atom;
use crate::letters::{Atoms, Hand};
use crate::maths::{exp, ln, ln_1p, square};
use crate::text::{Shape, class_of};

/// The atoms that one letter is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hit {
    pub first: usize,
    pub end: usize,
    pub confidence: f64,
}

/// The reach of a run of atoms, in x-heights.
#[derive(Debug, Clone, Copy)]
struct Extent {
    width: f64,
    high: f64,
    low: f64,
    dots: usize,
    held: f64,
}

fn misfit(c: char, seen: Extent, expected: Shape) -> f64 {
    let penalty = |off: f64, slack: f64| 0.5 * square(off / slack).min(14.0);
    let wide = ln(seen.width.max(0.05) / expected.width);
    let mut cost = penalty(wide, 0.3);
    let tall = class_of(c) == LetterClass::Tall;
    // Too low for a tall letter or too high for a short one tells more than the exact reach.
    let high = seen.high - expected.high;
    cost += penalty(
        high,
        if tall && high > 0.0 { 1.5 } else { 1.0 } * expected.slack,
    );
    cost += penalty(seen.low - expected.low, expected.slack);
    let dotted = matches!(c, 'i' | 'j');
    cost += match (dotted, seen.dots) {
        (true, 0) => 0.6,
        (true, 1) => -0.4,
        (true, n) => n as f64,
        (false, n) => 1.2 * n as f64,
    };
    cost + seen.held
}

fn soft_plus(x: f64) -> f64 {
    if x > 30.0 { x } else { ln_1p(exp(x)) }
}

const MOST_ATOMS: usize = 10;
const LOST_LETTER: f64 = 5.0;
const LOST_SPACE: f64 = 5.0;
/// Where crossed-out ink and a clean word would both do, the clean word is the letter's place.
const SUSPECT: f64 = 0.6;
/// Ink is rarely left over in the middle of a word.
const INSIDE: f64 = 2.0;

#[derive(Debug, Clone, Copy)]
enum Step {
    None,
    SkipAtom,
    SkipChar,
    Space,
    Letter(usize),
}

/// Finds the atoms of every letter of the text; `None` for a space and for a letter not found.
pub(crate) fn align(
    atoms: &Atoms,
    text: &[char],
    x_height: f64,
    hand: Hand<'_>,
) -> Vec<Option<Hit>> {
    let (n, m) = (atoms.len(), text.len());
    let mut cost = vec![f64::MAX; (n + 1) * (m + 1)];
    let mut step = vec![Step::None; (n + 1) * (m + 1)];
    let at = |i: usize, j: usize| i * (m + 1) + j;
    cost[0] = 0.0;
    let expected: Vec<Shape> = text.iter().map(|c| hand.shapes.of(*c)).collect();
    for i in 0..=n {
        for j in 0..=m {
            let here = cost[at(i, j)];
            if here == f64::MAX {
                continue;
            }
            let mut offer = |to: usize, sum: f64, how: Step| {
                if sum < cost[to] {
                    cost[to] = sum;
                    step[to] = how;
                }
            };
            if i < n {
                let inside = j > 0 && j < m && text[j - 1] != ' ' && text[j] != ' ';
                let held = if inside && atoms[i].gap.is_some() {
                    INSIDE
                } else {
                    0.0
                };
                let sum = here + skip_cost(&atoms[i], x_height) + held;
                offer(at(i + 1, j), sum, Step::SkipAtom);
            }
            if j == m {
                continue;
            }
            if text[j] == ' ' {
                let gap = atoms.get(i).map_or(Some(9.0), |a| a.gap);
                let parted = gap.map_or(6.0, |g| soft_plus((hand.limit - g) / 0.1));
                offer(at(i, j + 1), here + parted, Step::Space);
                offer(at(i, j + 1), here + LOST_SPACE, Step::SkipChar);
                continue;
            }
            offer(at(i, j + 1), here + LOST_LETTER, Step::SkipChar);
            let begins = j == 0 || text[j - 1] == ' ';
            let mut seen: Option<Extent> = None;
            for k in i..n.min(i + MOST_ATOMS) {
                let extent = grow(seen, atoms, i, k, x_height);
                seen = Some(extent);
                if extent.width > 2.2 * expected[j].width + 1.0 {
                    break;
                }
                let sum = here
                    + begin_cost(&atoms[i], begins, hand.limit)
                    + misfit(text[j], extent, expected[j])
                    + if atoms[i].suspect { SUSPECT } else { 0.0 };
                offer(at(k + 1, j + 1), sum, Step::Letter(k + 1 - i));
            }
        }
    }
    trace(&cost, &step, (n, m), text, atoms)
}

/// What it costs to leave an atom to no letter.
fn skip_cost(atom: &Atom, x_height: f64) -> f64 {
    let size = atom.reach.width().max(atom.reach.high - atom.reach.low) / x_height;
    if atom.suspect {
        // Crossed-out words are not in the text.
        0.2 * size
    } else if atom.thin && atom.gap.is_none() {
        0.5 + 0.6 * size
    } else {
        1.0 + 2.5 * size
    }
}

fn begin_cost(atom: &Atom, begins_word: bool, limit: f64) -> f64 {
    match (begins_word, atom.gap) {
        // The gap before a word has been paid for by its space.
        (true, Some(_)) => 0.0,
        (true, None) => 0.0,
        (false, Some(gap)) => soft_plus((gap - limit) / 0.1),
        (false, None) => atom.cut,
    }
}

/// Adds atom `k` to what is seen of a letter that begins with atom `first`.
fn grow(seen: Option<Extent>, atoms: &Atoms, first: usize, k: usize, x_height: f64) -> Extent {
    let atom = &atoms[k];
    let (high, low) = (atom.reach.high / x_height, -atom.reach.low / x_height);
    match seen {
        None => Extent {
            width: atom.reach.width() / x_height,
            high,
            low,
            dots: atom.dots.len(),
            held: 0.0,
        },
        Some(before) => {
            let left = atoms[first..k]
                .iter()
                .map(|a| a.reach.left)
                .fold(atom.reach.left, f64::min);
            let right = atoms[first..k]
                .iter()
                .map(|a| a.reach.right)
                .fold(atom.reach.right, f64::max);
            // A letter in several pieces is rarer the wider they stand apart.
            let broken = atom.gap.map_or(0.0, |g| 1.0 + 6.0 * g.max(0.0));
            Extent {
                width: (right - left) / x_height,
                high: before.high.max(high),
                low: before.low.max(low),
                dots: before.dots + atom.dots.len(),
                held: before.held + broken,
            }
        }
    }
}

fn trace(
    cost: &[f64],
    step: &[Step],
    (n, m): (usize, usize),
    text: &[char],
    atoms: &Atoms,
) -> Vec<Option<Hit>> {
    let mut out = vec![None; text.len()];
    let (mut i, mut j) = (n, m);
    while i > 0 || j > 0 {
        match step[i * (m + 1) + j] {
            Step::None => break,
            Step::SkipAtom => i -= 1,
            Step::SkipChar | Step::Space => j -= 1,
            Step::Letter(count) => {
                let first = i - count;
                let own = cost[i * (m + 1) + j] - cost[first * (m + 1) + j - 1];
                // The cut behind a letter is paid by the next one.
                let behind = atoms
                    .get(i)
                    .map_or(0.0, |a| if a.gap.is_none() { a.cut } else { 0.0 });
                out[j - 1] = Some(Hit {
                    first,
                    end: i,
                    confidence: 1.0 / (1.0 + exp(own + 0.5 * behind - 3.0)),
                });
                (i, j) = (first, j - 1);
            }
        }
    }
    out
}
