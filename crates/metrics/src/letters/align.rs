//! Atoms ↔ the known letters of a line, by dynamic programming.

use crate::letters::atoms::Atom;
use crate::letters::{Atoms, Hand};
use crate::maths::{exp, ln, ln_1p};

mod trust;
mod wanted;

use trust::trust;
use wanted::{Extent, Wanted};

/// The atoms that one letter is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hit {
    pub first: usize,
    pub end: usize,
    pub confidence: f64,
    /// The same, a letter that falls short of its shape allowed for: how sure it is that this ink is the
    /// letter, well formed or not.
    pub identity: f64,
}

fn soft_plus(x: f64) -> f64 {
    if x > 30.0 { x } else { ln_1p(exp(x)) }
}

const MOST_ATOMS: usize = 10;
/// Most pairs of a place between atoms and one between letters. The longest written line has some ten
/// thousand; specks without number beside a whole book have no letters to be found.
const MOST_PAIRS: usize = 4_000_000;
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
    if (n + 1).saturating_mul(m + 1) > MOST_PAIRS {
        return vec![None; m];
    }
    let mut cost = vec![f64::MAX; (n + 1) * (m + 1)];
    let mut step = vec![Step::None; (n + 1) * (m + 1)];
    let at = |i: usize, j: usize| i * (m + 1) + j;
    cost[0] = 0.0;
    let wanted: Vec<Wanted> = text.iter().map(|c| Wanted::new(*c, hand)).collect();
    for i in 0..=n {
        let extents = extents(atoms, i, x_height);
        let parted = atoms.get(i).map_or(Some(9.0), |a| a.gap);
        let parted = parted.map_or(6.0, |g| soft_plus((hand.limit - g) / 0.1));
        let skipped = atoms.get(i).map(|atom| skip_cost(atom, x_height));
        let begun = atoms
            .get(i)
            .map_or(0.0, |atom| begin_cost(atom, hand.limit));
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
            if let Some(skipped) = skipped {
                let inside = j > 0 && j < m && text[j - 1] != ' ' && text[j] != ' ';
                let held = if inside && atoms[i].gap.is_some() {
                    INSIDE
                } else {
                    0.0
                };
                offer(at(i + 1, j), here + skipped + held, Step::SkipAtom);
            }
            if j == m {
                continue;
            }
            if text[j] == ' ' {
                offer(at(i, j + 1), here + parted, Step::Space);
                offer(at(i, j + 1), here + LOST_SPACE, Step::SkipChar);
                continue;
            }
            offer(at(i, j + 1), here + LOST_LETTER, Step::SkipChar);
            // The gap before a word has been paid for by its space.
            let begins = j == 0 || text[j - 1] == ' ';
            let begun = if begins { 0.0 } else { begun };
            let widest = 2.2 * wanted[j].shape.width + 1.0;
            for (k, extent) in extents.iter().enumerate() {
                if extent.width > widest {
                    break;
                }
                let sum = here
                    + begun
                    + wanted[j].misfit(*extent)
                    + if atoms[i].suspect { SUSPECT } else { 0.0 };
                offer(at(i + k + 1, j + 1), sum, Step::Letter(k + 1));
            }
        }
    }
    trace(&cost, &step, (n, m), &wanted, atoms, x_height)
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

/// What it costs to begin a letter within a word.
fn begin_cost(atom: &Atom, limit: f64) -> f64 {
    match atom.gap {
        Some(gap) => soft_plus((gap - limit) / 0.1),
        None => atom.cut,
    }
}

/// What is seen of a letter that begins with atom `first`, by how many atoms it has.
fn extents(atoms: &Atoms, first: usize, x_height: f64) -> Vec<Extent> {
    let mut out: Vec<Extent> = Vec::new();
    let (mut left, mut right) = (f64::MAX, f64::MIN);
    for atom in atoms.iter().skip(first).take(MOST_ATOMS) {
        left = left.min(atom.reach.left);
        right = right.max(atom.reach.right);
        let width = (right - left) / x_height;
        let (high, low) = (atom.reach.high / x_height, -atom.reach.low / x_height);
        // A letter in several pieces is rarer the wider they stand apart.
        let broken = atom.gap.map_or(0.0, |g| 1.0 + 6.0 * g.max(0.0));
        let before = out.last();
        out.push(Extent {
            width,
            log_width: ln(width.max(0.05)),
            high: before.map_or(high, |b| b.high.max(high)),
            low: before.map_or(low, |b| b.low.max(low)),
            dots: before.map_or(0, |b| b.dots) + atom.dots.len(),
            held: before.map_or(0.0, |b| b.held + broken),
        });
    }
    out
}

fn trace(
    cost: &[f64],
    step: &[Step],
    (n, m): (usize, usize),
    wanted: &[Wanted],
    atoms: &Atoms,
    x_height: f64,
) -> Vec<Option<Hit>> {
    let mut out = vec![None; m];
    // The confidence that each would have with its shortcomings allowed for.
    let mut allowed = vec![0.0; m];
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
                let confidence = |own: f64| 1.0 / (1.0 + exp(own + 0.5 * behind - 3.0));
                let (letter, seen) = (&wanted[j - 1], extents(atoms, first, x_height)[count - 1]);
                let short = letter.misfit_falling_short(seen) - letter.misfit(seen);
                allowed[j - 1] = confidence(own + short.min(0.0));
                out[j - 1] = Some(Hit {
                    first,
                    end: i,
                    confidence: confidence(own),
                    identity: confidence(own),
                });
                (i, j) = (first, j - 1);
            }
        }
    }
    trust(&mut out, &allowed);
    out
}
