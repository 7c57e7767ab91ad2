//! A line's pieces → blobs (ink that hangs together), crossings-out, and words by their gaps.

use crate::lines::TextLine;
use crate::pieces::Piece;
use crate::ruling::Level;

mod gaps;
mod struck;

pub(crate) use gaps::{white, word_gap_limit};
pub(crate) use struck::left_over;

use struck::{bracketed, crossed_out};

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
    /// Whether it looks crossed out. Where the text is known, it decides.
    pub struck: Option<Struck>,
}

/// The usual lean of a page's writing, as columns to the right for each row up: the shear that
/// gathers its ink in the fewest columns.
pub(crate) fn usual_lean(lines: &[TextLine], level: &Level) -> f64 {
    let lines: Vec<Vec<Dash>> = lines.iter().map(|line| dashes(line, level)).collect();
    let mut best = (f64::MIN, 0.0);
    let mut about = |centre: f64, step: f64, steps: i32| {
        for k in -steps..=steps {
            let lean = centre + f64::from(k) * step;
            let value = lines.iter().map(|line| column_power(line, lean)).sum();
            if value > best.0 {
                best = (value, lean);
            }
        }
        best.1
    };
    let rough = about(0.1, 0.08, 8);
    about(rough, 0.02, 3)
}

/// A run of ink, by its height above the baseline.
struct Dash {
    x0: f64,
    length: usize,
    height: f64,
}

fn dashes(line: &TextLine, level: &Level) -> Vec<Dash> {
    let along = Along {
        line,
        level,
        lean: 0.0,
    };
    let runs = line.pieces.iter().flat_map(|piece| &piece.runs);
    runs.map(|run| Dash {
        x0: f64::from(run.x0),
        length: (run.x1 - run.x0) as usize,
        height: along.height(f64::from(run.x0 + run.x1) / 2.0, f64::from(run.y) + 0.5),
    })
    .collect()
}

/// The squares of the ink in every column, once the lean is undone.
fn column_power(dashes: &[Dash], lean: f64) -> f64 {
    let start = |dash: &Dash| (dash.x0 - lean * dash.height + 4096.0).max(0.0) as usize;
    let first = dashes.iter().map(start).min().unwrap_or(0);
    let mut columns: Vec<u32> = Vec::new();
    for dash in dashes {
        let start = start(dash) - first;
        let end = start + dash.length;
        if columns.len() < end && end < 40_000 {
            columns.resize(end, 0);
        }
        let from = start.min(columns.len());
        let to = end.min(columns.len());
        columns[from..to].iter_mut().for_each(|c| *c += 1);
    }
    columns.iter().map(|c| f64::from(c * c)).sum()
}

/// Gathers a line's pieces into blobs, left to right. `printed` are the level rows of printed lines.
#[tracing::instrument(level = "trace", name = "blobs", skip_all)]
pub(crate) fn blobs(along: Along<'_>, pen: f64, printed: &[f64]) -> Vec<Blob> {
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
                struck: crossed_out(piece, reach, along, pen, printed),
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
