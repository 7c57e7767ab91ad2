//! Ink cut at thin places ↔ the known letters of a line, by dynamic programming.

use crate::letters::{Atoms, Hand};
use crate::maths::{exp, ln, ln_1p, square};
use crate::pieces::Piece;
use crate::text::{Shape, class_of};
use crate::words::{self, Along, Blob, Reach};
use units::LetterClass;

/// Ink between two cuts: never more than a letter, often less.
#[derive(Debug, Clone)]
pub(crate) struct Atom {
    pub piece: Piece,
    pub dots: Vec<Piece>,
    pub reach: Reach,
    /// Which blob it is of.
    pub blob: usize,
    /// White before it in x-heights where it begins a blob.
    pub gap: Option<f64>,
    /// What it costs to begin a letter here where it does not begin a blob.
    pub cut: f64,
    /// Whether it may be no more than a stroke between letters.
    pub thin: bool,
}

/// The atoms that one letter is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hit {
    pub first: usize,
    pub end: usize,
    pub confidence: f64,
}

/// Cuts a line's blobs, crossed-out ones left out, into atoms.
pub(crate) fn atoms(along: Along<'_>, blobs: &[Blob], hand: Hand<'_>) -> Atoms {
    let mut out: Atoms = Vec::new();
    let mut last: Option<&Blob> = None;
    let mut behind_struck = false;
    for (index, blob) in blobs.iter().enumerate() {
        if blob.struck.is_some() {
            behind_struck = true;
            continue;
        }
        let gap = match last {
            None => 9.0,
            // A crossing-out stands for the gap between two words.
            Some(_) if behind_struck => 9.0,
            Some(l) => words::white(&l.piece, &blob.piece, along) / along.line.x_height,
        };
        behind_struck = false;
        last = Some(blob);
        let cuts = cuts(blob, along, hand);
        let parts = blob.piece.part(cuts.len() + 1, |x, y| {
            let (u, _) = along.place(f64::from(x) + 0.5, f64::from(y) + 0.5);
            cuts.partition_point(|c| c.at <= u)
        });
        let mut first = true;
        for (k, piece) in parts.into_iter().enumerate() {
            if piece.runs.is_empty() {
                continue;
            }
            let reach = Reach::of(&piece, along);
            out.push(Atom {
                reach,
                dots: Vec::new(),
                blob: index,
                gap: first.then_some(gap),
                cut: if k > 0 { cuts[k - 1].cost } else { 0.0 },
                thin: reach.high - reach.low < 0.5 * along.line.x_height,
                piece,
            });
            first = false;
        }
        place_dots(&mut out, index, blob, along);
    }
    out
}

/// Gives every dot to the atom of its blob that stands nearest below it.
fn place_dots(atoms: &mut Atoms, index: usize, blob: &Blob, along: Along<'_>) {
    for dot in &blob.dots {
        let at = Reach::of(dot, along).centre();
        let nearest = atoms.iter_mut().filter(|a| a.blob == index).min_by(|a, b| {
            (a.reach.centre() - at)
                .abs()
                .total_cmp(&(b.reach.centre() - at).abs())
        });
        if let Some(atom) = nearest {
            atom.dots.push(dot.clone());
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Cut {
    at: f64,
    cost: f64,
}

/// Places where a blob hangs together by one thin stroke only.
fn cuts(blob: &Blob, along: Along<'_>, hand: Hand<'_>) -> Vec<Cut> {
    let x_height = along.line.x_height;
    let width = blob.reach.width().ceil() as usize + 1;
    if (width as f64) < 0.5 * x_height {
        return Vec::new();
    }
    let mut thick = vec![0.0; width];
    let mut heights = vec![0.0; width];
    for run in &blob.piece.runs {
        let middle = f64::from(run.x0 + run.x1) / 2.0;
        let h = along.height(middle, f64::from(run.y) + 0.5);
        let start = f64::from(run.x0) - along.lean * h - blob.reach.left;
        for k in 0..(run.x1 - run.x0) as usize {
            if let Some(cell) = thick.get_mut(start.max(0.0) as usize + k) {
                *cell += 1.0;
                heights[start.max(0.0) as usize + k] += h;
            }
        }
    }
    let pen = hand.ink.pen;
    let limit = if hand.joined { 1.9 } else { 1.6 } * pen;
    let mut out: Vec<Cut> = Vec::new();
    let mut k = 0;
    while k < width {
        let start = k;
        while k < width && thick[k] <= limit {
            k += 1;
        }
        if k > start {
            stretch(
                &thick,
                &heights,
                start..k,
                x_height,
                pen,
                hand.joined,
                &mut out,
            );
        }
        k += 1;
    }
    let first = blob.reach.left;
    out.retain(|c| c.at > 0.12 * x_height && c.at < width as f64 - 0.12 * x_height);
    out.iter_mut().for_each(|c| c.at += first);
    out
}

/// Cuts of one thin stretch: at its thinnest place, and at both ends of a long one.
fn stretch(
    thick: &[f64],
    heights: &[f64],
    columns: core::ops::Range<usize>,
    x_height: f64,
    pen: f64,
    joined: bool,
    out: &mut Vec<Cut>,
) {
    let base = if joined { 0.15 } else { 1.5 };
    let mut add = |at: f64| {
        let k = (at as usize).min(thick.len() - 1);
        let height = (heights[k] / thick[k].max(1.0) / x_height).clamp(0.0, 1.2);
        let bulk = (thick[k] / pen - 1.0).clamp(0.0, 2.0);
        out.push(Cut {
            at,
            cost: base + 0.4 * bulk + 0.3 * height,
        });
    };
    let (start, end) = (columns.start as f64, columns.end as f64);
    if end - start > 0.35 * x_height {
        add(start + 0.06 * x_height);
        add((start + end) / 2.0);
        add(end - 0.06 * x_height);
    } else {
        let least = columns.clone().map(|k| thick[k]).fold(f64::MAX, f64::min);
        let at: Vec<f64> = columns
            .filter(|k| thick[*k] <= least)
            .map(|k| k as f64 + 0.5)
            .collect();
        add(at[at.len() / 2]);
    }
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
                offer(
                    at(i + 1, j),
                    here + skip_cost(&atoms[i], x_height),
                    Step::SkipAtom,
                );
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
                    + misfit(text[j], extent, expected[j]);
                offer(at(k + 1, j + 1), sum, Step::Letter(k + 1 - i));
            }
        }
    }
    trace(&cost, &step, (n, m), text, atoms)
}

/// What it costs to leave an atom to no letter.
fn skip_cost(atom: &Atom, x_height: f64) -> f64 {
    let size = atom.reach.width().max(atom.reach.high - atom.reach.low) / x_height;
    if atom.thin && atom.gap.is_none() {
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
