//! A line's pieces → blobs (ink that hangs together), crossings-out, and words by their gaps.

use crate::ink;
use crate::lines::TextLine;
use crate::maths::{exp, ln};
use crate::pieces::Piece;
use crate::ruling::Level;
use crate::stats;

/// A line's own coordinates: `u` along the line with the usual lean undone, `h` above its baseline,
/// both in pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Along<'a> {
    pub line: &'a TextLine,
    pub level: &'a Level,
    /// Columns to the right for each row up, of the usual downstroke.
    pub lean: f64,
}

impl Along<'_> {
    /// Height above the baseline of a place on the sheet.
    pub(crate) fn height(&self, x: f64, y: f64) -> f64 {
        self.line.base_at(x) - self.level.row(x, y)
    }

    /// Both coordinates of a place on the sheet.
    pub(crate) fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let h = self.height(x, y);
        (x - self.lean * h, h)
    }
}

/// How far a patch of ink reaches, in a line's own coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reach {
    pub left: f64,
    pub right: f64,
    pub low: f64,
    pub high: f64,
}

impl Reach {
    pub(crate) fn of(piece: &Piece, along: Along<'_>) -> Self {
        let mut reach = Self {
            left: f64::MAX,
            right: f64::MIN,
            low: f64::MAX,
            high: f64::MIN,
        };
        for run in &piece.runs {
            let middle = f64::from(run.x0 + run.x1) / 2.0;
            let h = along.height(middle, f64::from(run.y) + 0.5);
            reach.left = reach.left.min(f64::from(run.x0) - along.lean * h);
            reach.right = reach.right.max(f64::from(run.x1) - along.lean * h);
            reach.low = reach.low.min(h - 0.5);
            reach.high = reach.high.max(h + 0.5);
        }
        reach
    }

    pub(crate) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(crate) fn centre(&self) -> f64 {
        (self.left + self.right) / 2.0
    }

    pub(crate) fn join(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            right: self.right.max(other.right),
            low: self.low.min(other.low),
            high: self.high.max(other.high),
        }
    }
}

/// How ink was put out of use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Struck {
    Once,
    ManyTimes,
    Bracketed,
}

/// Ink that hangs together or lies above itself: a letter, or several that touch.
#[derive(Debug, Clone)]
pub(crate) struct Blob {
    /// Its ink, without dots.
    pub piece: Piece,
    /// Dots above it.
    pub dots: Vec<Piece>,
    /// Its reach, dots left out.
    pub reach: Reach,
    /// Whether it is crossed out.
    pub struck: Option<Struck>,
}

/// The usual lean of a page's writing, as columns to the right for each row up: the shear that
/// gathers its ink in the fewest columns.
pub(crate) fn usual_lean(lines: &[TextLine], level: &Level) -> f64 {
    let score = |lean: f64| -> f64 {
        lines
            .iter()
            .map(|line| {
                let along = Along { line, level, lean };
                column_power(line, along)
            })
            .sum()
    };
    let mut best = (f64::MIN, 0.0);
    let mut about = |centre: f64, step: f64, steps: i32| {
        for k in -steps..=steps {
            let lean = centre + f64::from(k) * step;
            let value = score(lean);
            if value > best.0 {
                best = (value, lean);
            }
        }
        best.1
    };
    let rough = about(0.1, 0.08, 8);
    about(rough, 0.02, 3)
}

fn column_power(line: &TextLine, along: Along<'_>) -> f64 {
    let mut columns: Vec<f64> = Vec::new();
    for run in line.pieces.iter().flat_map(|p| &p.runs) {
        let middle = f64::from(run.x0 + run.x1) / 2.0;
        let h = along.height(middle, f64::from(run.y) + 0.5);
        let start = (f64::from(run.x0) - along.lean * h + 4096.0).max(0.0) as usize;
        let end = start + (run.x1 - run.x0) as usize;
        if columns.len() < end && end < 40_000 {
            columns.resize(end, 0.0);
        }
        columns
            .iter_mut()
            .take(end)
            .skip(start)
            .for_each(|c| *c += 1.0);
    }
    columns.iter().map(|c| c * c).sum()
}

/// Gathers a line's pieces into blobs, left to right.
#[tracing::instrument(level = "trace", name = "blobs", skip_all)]
pub(crate) fn blobs(along: Along<'_>, pen: f64) -> Vec<Blob> {
    let x_height = along.line.x_height;
    let mut bodies: Vec<Blob> = Vec::new();
    let mut dots: Vec<(Reach, Piece)> = Vec::new();
    let mut pieces: Vec<(Reach, &Piece)> = along
        .line
        .pieces
        .iter()
        .map(|p| (Reach::of(p, along), p))
        .collect();
    pieces.sort_by(|a, b| a.0.left.total_cmp(&b.0.left));
    for (reach, piece) in pieces {
        let size = reach.width().max(reach.high - reach.low);
        if size < 0.6 * x_height && reach.low > 0.85 * x_height {
            dots.push((reach, piece.clone()));
        } else {
            bodies.push(Blob {
                piece: piece.clone(),
                dots: Vec::new(),
                reach,
                struck: crossed_out(piece, reach, along, pen),
            });
        }
    }
    let mut blobs = bracketed(stack(bodies), x_height);
    for (reach, dot) in dots {
        let below = blobs
            .iter_mut()
            .map(|b| {
                let away = (b.reach.left - reach.centre()).max(reach.centre() - b.reach.right);
                (away, b)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((away, blob)) = below
            && away < 0.7 * x_height
        {
            blob.dots.push(dot);
        }
    }
    blobs
}

/// Joins bodies that lie above one another, such as a bar and its stem.
fn stack(bodies: Vec<Blob>) -> Vec<Blob> {
    let mut out: Vec<Blob> = Vec::new();
    for body in bodies {
        let over = out.iter().rposition(|b| {
            let shared = b.reach.right.min(body.reach.right) - b.reach.left.max(body.reach.left);
            let narrow = b.reach.width().min(body.reach.width());
            shared > 0.5 * narrow && (b.struck.is_none() || shared > 0.8 * narrow)
        });
        match over {
            Some(i) => {
                let below = &mut out[i];
                below.piece = Piece::union([&below.piece, &body.piece].into_iter());
                below.reach = below.reach.join(body.reach);
                below.struck = below.struck.or(body.struck);
            }
            None => out.push(body),
        }
    }
    out.sort_by(|a, b| a.reach.centre().total_cmp(&b.reach.centre()));
    out
}

/// Which way a narrow, tall, bowed stroke is open: −1 to the left, 1 to the right.
fn bracket(blob: &Blob, x_height: f64) -> i32 {
    let r = blob.reach;
    let shaped = r.high > 1.15 * x_height
        && r.low < -0.12 * x_height
        && blob.piece.bounds().width() < 0.6 * x_height;
    if !shaped || blob.struck.is_some() {
        return 0;
    }
    let b = blob.piece.bounds();
    let third = |k: u32| -> f64 {
        let rows = b.y0 + (b.y1 - b.y0) * k / 5..b.y0 + (b.y1 - b.y0) * (k + 1) / 5;
        let middles: Vec<f64> = blob
            .piece
            .runs
            .iter()
            .filter(|run| rows.contains(&run.y))
            .map(|run| f64::from(run.x0 + run.x1) / 2.0)
            .collect();
        stats::mean(&middles).unwrap_or(0.0)
    };
    let bow = third(2) - (third(0) + third(4)) / 2.0;
    match bow / x_height {
        b if b < -0.07 => 1,
        b if b > 0.07 => -1,
        _ => 0,
    }
}

/// Joins what stands between a bracket and its counterpart into one blob.
fn bracketed(blobs: Vec<Blob>, x_height: f64) -> Vec<Blob> {
    const MOST_BETWEEN: usize = 14;
    let sides: Vec<i32> = blobs.iter().map(|b| bracket(b, x_height)).collect();
    let mut out: Vec<Blob> = Vec::new();
    let mut at = 0;
    while at < blobs.len() {
        let end = (at + 2..blobs.len().min(at + MOST_BETWEEN)).find(|&k| sides[k] == -1);
        match end.filter(|_| sides[at] == 1) {
            Some(end) => {
                let inside = &blobs[at..=end];
                out.push(Blob {
                    piece: Piece::union(inside.iter().map(|b| &b.piece)),
                    dots: Vec::new(),
                    reach: inside.iter().fold(inside[0].reach, |r, b| r.join(b.reach)),
                    struck: Some(Struck::Bracketed),
                });
                at = end + 1;
            }
            None => {
                out.push(blobs[at].clone());
                at += 1;
            }
        }
    }
    out
}

/// Ink of a piece on a grid of its line's own coordinates.
struct Grid {
    width: usize,
    height: usize,
    cells: Vec<bool>,
}

impl Grid {
    fn new(piece: &Piece, reach: Reach, along: Along<'_>) -> Self {
        let width = reach.width().ceil() as usize + 1;
        let height = (reach.high - reach.low).ceil() as usize + 1;
        let mut cells = vec![false; width * height];
        for run in &piece.runs {
            let middle = f64::from(run.x0 + run.x1) / 2.0;
            let h = along.height(middle, f64::from(run.y) + 0.5);
            let row = ((h - reach.low).max(0.0) as usize).min(height - 1);
            let start = (f64::from(run.x0) - along.lean * h - reach.left).max(0.0) as usize;
            let end = (start + (run.x1 - run.x0) as usize).min(width);
            cells[row * width + start.min(end)..row * width + end].fill(true);
        }
        Self {
            width,
            height,
            cells,
        }
    }
}

/// Whether a piece is a word under a crossing-out.
fn crossed_out(piece: &Piece, reach: Reach, along: Along<'_>, pen: f64) -> Option<Struck> {
    let x_height = along.line.x_height;
    if reach.width() < 1.4 * x_height {
        return None;
    }
    let grid = Grid::new(piece, reach, along);
    let rows = |from: f64, to: f64| {
        let first = ((from * x_height - reach.low).max(0.0) as usize).min(grid.height);
        first..((to * x_height - reach.low).max(0.0) as usize).min(grid.height)
    };
    let body = rows(0.05, 0.95);
    let cells = body.len() * grid.width;
    if cells == 0 {
        return None;
    }
    let inked = body
        .clone()
        .map(|r| {
            grid.cells[r * grid.width..(r + 1) * grid.width]
                .iter()
                .filter(|c| **c)
                .count()
        })
        .sum::<usize>();
    // How many strokes lie side by side in a stretch as wide as a short letter is high.
    let share = inked as f64 / cells as f64;
    let dense = share * x_height / pen;
    if share > 0.47 && dense > 3.3 {
        return Some(Struck::ManyTimes);
    }
    // In two touching letters an arch can pass for a stroke; a struck word is wider.
    let wide = reach.width() > 2.2 * x_height;
    (wide && stroke_through(&grid, rows(0.22, 0.82), pen) > 0.95).then_some(Struck::Once)
}

/// The largest share of columns that one nearly level stroke can cross without leaving the ink.
fn stroke_through(grid: &Grid, rows: core::ops::Range<usize>, pen: f64) -> f64 {
    const STRIDE: usize = 5;
    let height = rows.len();
    if height == 0 {
        return 0.0;
    }
    let trim = pen as usize;
    let columns: Vec<usize> = (trim..grid.width.saturating_sub(trim))
        .step_by(STRIDE)
        .collect();
    let ink =
        |r: usize, x: usize| f64::from(u8::from(grid.cells[(rows.start + r) * grid.width + x]));
    let mut best: Vec<f64> = vec![0.0; height];
    for &x in &columns {
        let before = best.clone();
        for (r, cell) in best.iter_mut().enumerate() {
            let from = &before[r.saturating_sub(1)..=(r + 1).min(height - 1)];
            *cell = from.iter().copied().fold(0.0, f64::max) + ink(r, x);
        }
    }
    best.iter().copied().fold(0.0, f64::max) / columns.len().max(1) as f64
}

/// The white between two patches of ink: the least on rows of the short letters that both have ink
/// on; between their outermost points where they share none.
pub(crate) fn white(left: &Piece, right: &Piece, along: Along<'_>) -> f64 {
    let rows = 15;
    let x_height = along.line.x_height;
    let mut ends = vec![(f64::MIN, f64::MAX); rows];
    let slot = |h: f64| (h / x_height * rows as f64).floor();
    let mut outer = (f64::MIN, f64::MAX);
    for run in &left.runs {
        let h = along.height(f64::from(run.x1), f64::from(run.y) + 0.5);
        outer.0 = outer.0.max(f64::from(run.x1));
        if let Some(end) = ends.get_mut(slot(h) as usize).filter(|_| h >= 0.0) {
            end.0 = end.0.max(f64::from(run.x1));
        }
    }
    for run in &right.runs {
        let h = along.height(f64::from(run.x0), f64::from(run.y) + 0.5);
        outer.1 = outer.1.min(f64::from(run.x0));
        if let Some(end) = ends.get_mut(slot(h) as usize).filter(|_| h >= 0.0) {
            end.1 = end.1.min(f64::from(run.x0));
        }
    }
    ends.iter()
        .filter(|(a, b)| *a > f64::MIN && *b < f64::MAX)
        .map(|(a, b)| b - a)
        .min_by(f64::total_cmp)
        .unwrap_or(outer.1 - outer.0)
}

/// The gap, in x-heights, above which two blobs belong to different words. `most` is the number of
/// gaps between words where the text gives it.
pub(crate) fn word_gap_limit(gaps: &[f64], most: Option<usize>) -> f64 {
    const USUAL: f64 = 0.55;
    let mut sorted = gaps.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    if let Some(n) = most.filter(|n| *n > 0 && *n < sorted.len()) {
        return ((sorted[n - 1] + sorted[n]) / 2.0).clamp(0.15, 1.5);
    }
    // Two heaps of gaps, on a scale of ratios: Otsu's threshold parts them.
    let scale = |gap: f64| (ln(gap.clamp(0.05, 4.0) / 0.05) * 50.0) as u8;
    let parted = ink::otsu(gaps.iter().map(|g| scale(*g)));
    let limit = parted.map_or(USUAL, |t| 0.05 * exp((f64::from(t) + 0.5) / 50.0));
    let (narrow, wide): (Vec<f64>, Vec<f64>) = gaps.iter().partition(|g| **g <= limit);
    match (stats::median(&narrow), stats::median(&wide)) {
        (Some(a), Some(b)) if gaps.len() >= 8 => ((a.max(0.02) * b).sqrt()).clamp(0.3, 1.0),
        _ => USUAL,
    }
}
