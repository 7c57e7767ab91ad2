//! Blobs cut at thin places into atoms, of which letters are made.

use crate::letters::{Atoms, Hand};
use crate::pieces::Piece;
use crate::words::{self, Along, Blob, Reach};

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
    /// Whether its blob looks crossed out.
    pub suspect: bool,
}

/// Cuts a line's blobs into atoms.
pub(crate) fn atoms(along: Along<'_>, blobs: &[Blob], hand: Hand<'_>) -> Atoms {
    let mut out: Atoms = Vec::new();
    let mut last: Option<&Blob> = None;
    for (index, blob) in blobs.iter().enumerate() {
        let gap = match last {
            None => 9.0,
            Some(l) => words::white(&l.piece, &blob.piece, along) / along.line.x_height,
        };
        last = Some(blob);
        let cuts = cuts(blob, along, hand);
        let parts = blob.piece.part(cuts.len() + 1, |run| {
            // Over the length of a run the height hardly changes.
            let middle = f64::from(run.x0 + run.x1) / 2.0;
            let lean = along.lean * along.height(middle, f64::from(run.y) + 0.5);
            let cuts = &cuts;
            move |x| cuts.partition_point(|c| c.at <= f64::from(x) + 0.5 - lean)
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
                suspect: blob.struck.is_some(),
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
